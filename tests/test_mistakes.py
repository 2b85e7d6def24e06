"""What is wrong with a file, in words: ranges, words, and what stays readable beside a mistake."""

import re
from collections.abc import Callable, Iterator, Sequence
from datetime import date
from pathlib import Path
from typing import Annotated, Literal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import Field

from soak.allowed import Takes, allowed, keys_of, show
from soak.bench.model_sheet import read_model_sheet
from soak.desk.orders import read_any_fixture
from soak.errors import FileError, FixtureError, Mistake
from soak.mistakes import Mistakes, fit
from soak.quantities import parse_bytes, parse_duration, write_bytes, write_duration
from soak.run.script import read_script
from soak.settings import Bytes, Seconds, Settings, checked
from soak.sim.scene import read_scene


class Inner(Settings):
    """A table within."""

    text: str
    kind: Literal["usb", "video"] = "usb"
    low: int = 0
    high: int = 9

    @fit
    def _in_order(self) -> Iterator[Mistake]:
        if self.high < self.low:
            yield Mistake("high", "is below low")


class Outer(Settings):
    """One key of each kind."""

    start_s: Seconds = Field(gt=0, le=3600)
    pause_s: Seconds = 1.0
    share: float = Field(default=0.5, ge=0, lt=1)
    limit_degc: float | None = Field(default=None, gt=-50, lt=300)
    times: int = Field(default=1, ge=1, le=10)
    size: Bytes = Field(default=4096, ge=4096, multiple_of=4096)
    way: Literal["auto", "poll"] = "auto"
    on: bool = False
    initials: str = Field(default="", max_length=3)
    coil: Annotated[str, Takes("the number of a coil")] = "1"
    names: Sequence[str] = ()
    pair: Sequence[int] | None = Field(default=None, min_length=2, max_length=2)
    inner: dict[str, Inner] = Field(default_factory=dict)

    @fit
    def _not_both(self) -> Iterator[Mistake]:
        if self.times > 5 and self.on:
            yield Mistake("", "times above 5 and on do not go together")


ALLOWED = {
    "start_s": "a duration above 0 s, up to 1 h",
    "pause_s": 'a duration such as "30 s" or "4 h"',
    "share": "a number from 0, below 1",
    "limit_degc": "a number above -50, below 300, in °C",
    "times": "a whole number from 1 to 10",
    "size": "a size of at least 4 KiB, a multiple of 4096",
    "way": 'one of "auto" or "poll"',
    "on": "true or false",
    "initials": "text of at most 3 characters",
    "coil": "the number of a coil",
    "names": "a list, each text",
    "pair": "a list of 2, each a whole number",
    "inner": "a table with names of your own",
}


def told(data: dict[str, object]) -> dict[str, str]:
    """Return the mistakes by key."""
    with pytest.raises(FixtureError) as caught:
        checked(Outer, data, "mine.toml", FixtureError)
    return {one.key: one.what for one in caught.value.mistakes}


@pytest.mark.parametrize("key", ALLOWED)
def test_what_a_key_takes_is_said_in_words_with_its_range_and_unit(key: str) -> None:
    """An operator reads no type names."""
    assert allowed(keys_of(Outer)[key]) == ALLOWED[key]


def test_keys_that_do_not_go_together_are_told_beside_other_mistakes() -> None:
    """A key that is wrong hides nothing that does not hang on it."""
    data = {"times": 7, "on": True, "wya": "poll", "inner": {"a": {"low": 5, "high": 2}}}
    assert told(data) == {
        "start_s": "is missing; write a duration above 0 s, up to 1 h",
        "wya": f"there is no such key; the keys here are {', '.join(ALLOWED)}",
        "": "times above 5 and on do not go together",
        "inner.a.text": "is missing; write text",
        "inner.a.high": "is below low",
    }


def test_a_key_that_is_wrong_is_not_compared_with_others() -> None:
    """What would stand there by default is not what the writer meant."""
    assert set(told({"start_s": 1, "times": 70, "on": True})) == {"times"}


def test_what_is_written_is_shown_as_it_is_written() -> None:
    """A duration beyond its range is not shown in seconds."""
    assert told({"start_s": "2 h"})["start_s"].startswith('is "2 h"; write a duration')
    assert [show(one) for one in (True, "a", 3, {"a": 1}, date(2026, 1, 5))] == [
        "true",
        '"a"',
        "3",
        "a table",
        "2026-01-05",
    ]


def test_what_is_missing_for_a_misspelt_key_is_one_mistake() -> None:
    """The key is there, under another name."""
    assert set(told({"strat_s": 1})) == {"strat_s"}


def test_an_attribute_that_is_no_key_is_a_fault_of_the_program() -> None:
    """Only what a mistake took away may be missing."""
    with pytest.raises(AttributeError), Mistakes("mine.toml", FixtureError).gathered():
        _ = Outer(start_s=1).nowhere  # type: ignore[attr-defined]  # that it is not there is the point


SHIPPED = [
    *Path("fixtures").rglob("*.toml"),
    *Path("soak/run/scripts").glob("*.toml"),
    *Path("soak/sim/scenes").glob("*.toml"),
]


def reader_of(file: Path) -> Callable[[Path], object]:
    """Return what reads such a file."""
    if "models" in file.parts:
        return read_model_sheet
    if "fixtures" in file.parts:
        return lambda path: read_any_fixture(path, None)
    return read_script if "scripts" in file.parts else lambda path: read_scene(str(path))


@pytest.mark.parametrize("file", SHIPPED, ids=str)
def test_a_good_file_with_one_wrong_key_has_one_mistake(file: Path, tmp_path: Path) -> None:
    """Whatever stands beside a mistake is read as it is without it."""
    wrong = tmp_path / "wrong.toml"
    wrong.write_text(f"{file.read_text()}\nnonsense = 1\n")
    with pytest.raises(FileError) as caught:
        reader_of(file)(wrong)
    assert [one.key.rpartition(".")[2] for one in caught.value.mistakes] == ["nonsense"]


@given(st.floats(0, 1e7, allow_subnormal=False).map(lambda value: round(value, 5)))
def test_a_written_duration_is_read_back_as_it_was(duration_s: float) -> None:
    """What a refusal or the reference names can be typed as it stands."""
    assert parse_duration(write_duration(duration_s)) == pytest.approx(duration_s, rel=1e-12)


@given(st.integers(0, 1 << 45))
def test_a_written_size_is_read_back_as_it_was(size_bytes: int) -> None:
    """No limit is rounded."""
    assert parse_bytes(write_bytes(size_bytes)) == size_bytes


def test_quantities_are_written_in_the_unit_that_fits() -> None:
    """A week is no number of hours, and 4096 bytes are no 4.10 kB."""
    durations = (0.05, 3e-5, 59.0, 90.0, 5400.0, 86_400.0, 7 * 86_400.0)
    assert [write_duration(one) for one in durations] == [
        "0.05 s",
        "0.00003 s",
        "59 s",
        "1 min 30 s",
        "1 h 30 min",
        "24 h",
        "7 d",
    ]
    assert [write_bytes(one) for one in (0, 512, 4096, 250_000_000, 64 << 20)] == [
        "0 B",
        "512 B",
        "4 KiB",
        "250 MB",
        "64 MiB",
    ]


ODD = ["-1", "0", "1e9", "nan", "true", '""', '"x"', "[]", "[1, [2]]", '["a"]', "{}", "{ a = 1 }"]
ODD += ["2026-01-05", "07:30:00", "9_999_999_999_999_999_999", '"4 h"']


@given(st.data())
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=300)
def test_whatever_stands_for_a_value_is_taken_or_told(tmp_path: Path, data: st.DataObject) -> None:
    """Two odd values in any file: it is read, or each line says where, what and what to do."""
    file = data.draw(st.sampled_from(SHIPPED))
    lines = file.read_text().splitlines()
    places = [number for number, line in enumerate(lines) if re.match(r"\w+ *=", line)]
    for number in data.draw(st.sets(st.sampled_from(places), min_size=1, max_size=2)):
        key = lines[number].partition("=")[0]
        lines[number] = f"{key}= {data.draw(st.sampled_from(ODD))}"
    wrong = tmp_path / "wrong.toml"
    wrong.write_text("\n".join(lines))
    try:
        reader_of(file)(wrong)
    except FileError as fault:
        for one in fault.mistakes:
            assert len(one.what) > len("is x"), one
            assert "\n" not in one.within("wrong.toml")
            assert "Input should" not in one.what, one
