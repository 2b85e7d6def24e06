"""A header is typed: what stands in one is known by a class, and is written as it was read."""

import json
import lzma
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from headers import bare_header
from hypothesis import given
from hypothesis import strategies as st

from soak.frozen.fixture import Identity, Own
from soak.frozen.references import References
from soak.frozen.script import PlannedScript
from soak.frozen.shape import as_json, keys_of, read_as
from soak.frozen.sheet import ModelSheet
from soak.frozen.unit import UnitStated
from soak.frozen.wiring import ROLE_SETTINGS, SettableSwitch
from soak.marks import Answered
from soak.quantities import Quantity
from soak.records import canonical_json, from_json, to_json
from soak.terms import UnitTerms

HERE = Path(__file__).parent
JOURNALS = HERE.parent / "corpus" / "journals"
sys.path.append(str(HERE.parent / "corpus"))

FOR_PEOPLE = frozenset(
    {
        # How a driver is set: printed on the bench's page, asked by its own driver alone.
        *("at_end", "baud", "changes_within_s", "decimal_comma", "echoes", "every_s", "file"),
        *("folder", "in_process", "instrument_unit", "limit_s", "line_end", "needs_line_end"),
        *("open_limit_s", "pace", "parity", "pattern", "press", "press_answer", "pause_s", "off"),
        *("off_answer", "on", "on_answer", "rate_hz", "read_limit_s", "reads_medium"),
        *("reference_degc", "release", "release_answer", "reopen_after_s", "scale", "select"),
        *("settle_s", "size", "size_bytes", "source", "stop_bits", "tries", "rest_s_per_byte"),
        *("answer_s", "answers_s", "apart", "asks_back"),
    }
)
"""Settings of single drivers that stand in the corpus."""

GIVEN_UP = frozenset(
    {
        "model_sheet.button.hold_s",
        "model_sheet.button.starts",
        "references.seen_before.complaint",
        "references.seen_before.events",
        "references.seen_before.hours",
        "references.seen_before.soak_id",
    }
)
"""Keys of older programs that nothing reads any more."""


def headers() -> Iterator[dict[str, Any]]:
    """Yield the headers of the corpus, each once."""
    seen = set()
    for archive in sorted(JOURNALS.glob("*.xz")):
        with lzma.open(archive, "rt", encoding="utf-8") as lines:
            for line in lines:
                if line.startswith('{"kind":"header"') and line not in seen:
                    seen.add(line)
                    yield json.loads(line)


def unknown(cls: type, told: Mapping[str, Any], at: str) -> Iterator[str]:
    """Yield the places of keys that a class does not know, at any depth."""
    known = keys_of(cls)
    for key, value in told.items():
        if key not in known:
            yield f"{at}.{key}"
        elif known[key] is not None:
            parts = value if isinstance(value, list) else [value]
            for part in parts:
                if isinstance(part, Mapping):
                    inner = part.values() if known[key][1] else [part]
                    for one in inner:
                        yield from unknown(known[key][0], one, f"{at}.{key}")


def unknown_in(header: Mapping[str, Any]) -> Iterator[str]:
    """Yield the places of a header's keys that no class knows and that are not for people."""
    yield from unknown(UnitStated, header["unit"], "unit")
    yield from unknown(ModelSheet, header["model_sheet"], "model_sheet")
    yield from unknown(PlannedScript, header["script"], "script")
    yield from unknown(References, header["references"], "references")
    yield from unknown(UnitTerms, header.get("terms", {}), "terms")
    fixture = dict(header["fixture"])
    for role, kind in ROLE_SETTINGS.items():
        told = fixture.pop(role, None) or {}
        for entry in told.values() if kind.named else [told] if told else []:
            known = {*keys_of(kind), *keys_of(Own), *keys_of(SettableSwitch), "identity"}
            yield from (f"fixture.{role}.{key}" for key in {*entry} - known - FOR_PEOPLE)
            read_as(Identity, entry.get("identity", {}))
    yield from (f"fixture.{key}" for key in {*fixture} - {"name", "file", "simulated"})


def test_every_key_of_the_corpus_is_known_or_kept_for_people():
    """Nothing is recorded that neither the program nor a person reads."""
    found = {place for header in headers() for place in unknown_in(header)}
    assert found == GIVEN_UP


def test_a_header_of_the_corpus_says_the_same_once_written_and_read():
    """What is read is what was written, whatever an older program left out."""
    number = 0
    for told in headers():
        number += 1
        told.pop("kind")
        header = from_json("header", told)
        written = json.loads(canonical_json(to_json(header)))
        assert from_json("header", written) == header
    assert number > 500


WORDS = st.text(max_size=8)
FIGURES = st.one_of(st.none(), st.floats(-1e6, 1e6))
UNITS = st.fixed_dictionaries(
    {"serial": WORDS, "tag": WORDS, "model": WORDS},
    optional={
        "repairs": st.lists(
            st.fixed_dictionaries({"id": WORDS, "function": WORDS, "at": st.integers(0, 99)}),
            max_size=2,
        ),
        "wiped": st.one_of(st.none(), st.fixed_dictionaries({"how": WORDS, "by": WORDS})),
    },
)
FIXTURES = st.fixed_dictionaries(
    {"name": WORDS, "file": WORDS},
    optional={
        "switch": st.fixed_dictionaries(
            {"driver": WORDS, "channel": WORDS, "baud": st.integers(0, 9600)},
            optional={"sets_voltage": st.booleans(), "identity": st.dictionaries(WORDS, WORDS)},
        ),
        "probe": st.dictionaries(
            WORDS, st.fixed_dictionaries({"spot": WORDS, "accuracy": FIGURES}), max_size=2
        ),
    },
)
SHEETS = st.fixed_dictionaries(
    {"model": WORDS},
    optional={
        "start_s": st.floats(0.1, 100.0),
        "ports": st.dictionaries(WORDS, st.fixed_dictionaries({"text": WORDS, "kind": WORDS})),
        "spots": st.dictionaries(WORDS, st.fixed_dictionaries({"limit_degc": FIGURES})),
        "holds_data": st.one_of(st.none(), st.booleans()),
    },
)
STRETCHES = st.lists(
    st.fixed_dictionaries(
        {"name": WORDS, "lasts_s": FIGURES, "checks": st.dictionaries(WORDS, st.just({"a": 1}))}
    ),
    max_size=2,
)


@given(unit=UNITS, fixture=FIXTURES, model_sheet=SHEETS, stretches=STRETCHES)
def test_any_header_is_read_as_it_was_written(unit, fixture, model_sheet, stretches):
    """Through canonical JSON, which writes 12.0 as 12."""
    script = {"stretches": stretches}
    header = bare_header(unit=unit, fixture=fixture, model_sheet=model_sheet, script=script)
    again = from_json("header", json.loads(canonical_json(to_json(header))))
    assert again == header


@pytest.mark.parametrize(
    ("part", "told", "words"),
    [
        ("model_sheet", {"start_s": "soon"}, "model_sheet.start_s is 'soon'"),
        ("fixture", {"probe": {"rear": {"accuracy": []}}}, "fixture.probe.rear.accuracy is []"),
        ("fixture", {"switch": 3}, "fixture.switch is 3"),
        ("unit", {"repairs": [{"at": "x"}]}, "unit.repairs[1].at is 'x'"),
        ("script", {"stretches": "none"}, "script.stretches is 'none'"),
        ("references", {"pool": [{"hours": None}]}, "references.pool[1].hours is None"),
        ("references", [], "references is []"),
    ],
)
def test_a_wrong_kind_of_value_is_told_by_its_place(part, told, words):
    """One sentence, which whoever reads the journal puts before the operator."""
    header = to_json(bare_header(quantities=(Quantity("q", "s", "stick"),)))
    with pytest.raises(ValueError, match="not a header") as refused:
        from_json("header", {**header, part: told})
    assert words in str(refused.value)


def test_a_default_that_is_left_out_is_left_out_when_written():
    """So an older program's header and today's are the same where they say the same."""
    assert as_json(References()) == {}
    assert as_json(PlannedScript()).keys() == keys_of(PlannedScript).keys() - {"beside"}


@pytest.mark.parametrize("answer", ["yes", "12", 12.5, 12, None])
def test_what_may_be_text_or_a_number_stays_what_it_was(answer):
    """An answer of 12 is no "12": canonical JSON writes a number of degrees as 12."""
    read = read_as(Answered, {"id": "q", "answer": answer})
    assert (read.answer, type(read.answer)) == (
        answer,
        float if isinstance(answer, int) else type(answer),
    )
