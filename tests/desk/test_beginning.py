"""What `soak begin` makes of answers, of the time there is, and of files that are there."""

import re
import tomllib
from pathlib import Path

import pytest
from typed_bench import SHEET

from soak.bench.model_sheet import read_model_sheet
from soak.desk.beginning.answers import limits_of, time_of, yes_no_open
from soak.desk.beginning.fitting import FILLED, after_repair, kind_of
from soak.desk.beginning.kept_file import new_text, with_values
from soak.desk.hands.proposals import kinds
from soak.desk.orders import read_any_fixture
from soak.desk.soaking.restraints import MOST_HARD_CUTS
from soak.errors import UsageError

FIXTURES = Path(__file__).parents[2] / "fixtures"
TIMES = {
    "45 min": 2700,
    "45MIN": 2700,
    "2h": 7200,
    "2 H": 7200,
    "1,5 Stunden": 5400,
    "1.5 h": 5400,
    "8 STD.": 28800,
    "1 h 30 min": 5400,
    "1h30": 5400,
    "1 Stunde und 30 Minuten": 5400,
    "1 day": 86400,
    "2 Tage": 172800,
}


@pytest.mark.parametrize(("typed", "seconds"), TIMES.items())
def test_times_are_taken_as_people_type_them(typed, seconds):
    """Capitals, decimal commas, German: the seconds by the meaning of the words."""
    assert time_of(typed) == seconds


@pytest.mark.parametrize("typed", ["", "8", "1 h x", "h", "-2 h", "0 min", "9 d", "1 fortnight"])
def test_what_is_no_time_is_asked_again(typed):
    """A bare number has no unit, and nothing runs for longer than a week."""
    with pytest.raises(UsageError):
        time_of(typed)


def test_an_open_question_is_neither_yes_nor_no():
    """Nobody's answer is none; what is no answer is refused."""
    assert [yes_no_open(typed) for typed in ("YES", "ja", "N", "Nein")] == [
        True,
        True,
        False,
        False,
    ]
    assert [yes_no_open(typed) for typed in ("", "?", "UNKNOWN", "weiß nicht")] == [None] * 4
    with pytest.raises(UsageError):
        yes_no_open("perhaps")


def test_limits_are_degrees_celsius_for_each_spot():
    """A decimal comma, a unit, one left open; Fahrenheit is said in degC and refused."""
    assert limits_of(["heatsink"])("80,5 °C") == {"heatsink": 80.5}
    assert limits_of(["heatsink", "outside"])("80 60") == {"heatsink": 80, "outside": 60}
    assert limits_of(["heatsink", "outside"])("80 °C; ?") == {"heatsink": 80}
    assert limits_of(["heatsink", "outside"])("") == {}
    # 176 degF are 80 degC by definition (NIST SP 811, B.9).
    with pytest.raises(UsageError, match=re.escape("80.0 degC")):
        limits_of(["heatsink"])("176 F")
    with pytest.raises(UsageError, match="2 temperatures"):
        limits_of(["heatsink", "outside"])("80")


@pytest.fixture(scope="module")
def sheet():
    """Give the invented model's sheet."""
    return read_model_sheet(Path(str(SHEET)))


@pytest.mark.parametrize("name", ["simulated/good", "by-hand", "thermometer-only", "usb-port"])
@pytest.mark.parametrize("hours", [0.5, 3, 12])
def test_every_proposal_fits_into_the_time_there_is(sheet, name, hours):
    """Whatever is wired: nine tenths at most, and the time itself is the latest end."""
    fixture = read_any_fixture(FIXTURES / f"{name}.toml", sheet)
    for kind in kinds():
        port = kind if kind in sheet.ports else {"usb": "usb1"}.get(kind, "")
        time_s = hours * 3600
        fitted = after_repair(kind, port, time_s, sheet=sheet, fixture=fixture, file="f")
        assert sum(part.expected_s for part in fitted.plan.stretches) <= FILLED * time_s
        assert fitted.script.head.not_after == time_s
        assert all(part.checks for part in fitted.plan.stretches)


def test_where_a_disk_may_be_the_power_is_cut_few_times(sheet):
    """Not said is not no: a proposal has no more cuts than a disk bears, and says so."""
    unsaid = sheet.model_copy(update={"disk": None})
    fixture = read_any_fixture(FIXTURES / "simulated/good.toml", sheet)
    fitted = after_repair("power", "power", 36000, sheet=unsaid, fixture=fixture, file="f")
    cycles = [entry.get("power_cycles", {}) for entry in fitted.data["stretch"]]
    cuts = sum(entry.get(kind, 0) for entry in cycles for kind in ("warm", "cold"))
    assert 0 < cuts <= MOST_HARD_CUTS
    assert any("may hold a disk" in told for told in fitted.left_out)


@pytest.mark.parametrize("kind", kinds())
def test_key_functions_that_are_wired_are_shown_as_well(sheet, kind):
    """A repair of the fan alone would leave the picture and the starts open."""
    fixture = read_any_fixture(FIXTURES / "simulated/good.toml", sheet)
    port = kind if kind in sheet.ports else {"usb": "usb1"}.get(kind, "")
    fitted = after_repair(kind, port, 36000, sheet=sheet, fixture=fixture, file="f")
    checks = {check for entry in fitted.data["stretch"] for check in entry}
    keys = {function.check for function in sheet.functions.values() if function.key}
    assert keys <= checks


@pytest.mark.parametrize(
    ("function", "words", "kind"),
    [
        ("video", "video port re-soldered", "video"),
        ("start", "inlet replaced", "power"),
        ("service_usb", "service_usb socket", "usb"),
        ("cooling", "Wärmeleitpaste erneuert", "thermal compound"),
        ("cooling", "fan renewed", "fan"),
        ("cooling", "Lüfter", "fan"),
        ("service_usb", "SSD replaced", "storage"),
        ("network", "network socket", ""),
    ],
)
def test_words_and_function_say_which_proposal(sheet, function, words, kind):
    """In either language; for a repair without a proposal there are the general scripts."""
    assert kind_of(function, words, sheet)[0] == kind


DATA = {"name": "a", "stretch": [{"name": "one", "n": 1}, {"name": "two", "look": {"x": "y"}}]}


def test_a_new_file_is_remarked_and_holds_its_values():
    """What stands over a key and in a table is a remark; the rest is the data."""
    text = new_text(DATA, {(): ["head"], ("stretch", "two"): ["why"]})
    assert tomllib.loads(text) == DATA
    assert text.startswith("# head\n")
    assert '[[stretch]]\n# why\nname = "two"' in text


def test_remarks_of_a_part_that_goes_are_kept_at_the_end():
    """A person's, in whatever place; those that soak writes itself go with their part."""
    remarks = {("stretch", "one"): ["why"]}
    text = new_text(DATA, remarks).replace("n = 1", "n = 1  # mine\n# mine, too")
    now = with_values(text, {"name": "a", "stretch": [DATA["stretch"][1]]}, remarks, "f")
    assert tomllib.loads(now) == {"name": "a", "stretch": [DATA["stretch"][1]]}
    assert "# mine\n" in now
    assert "# mine, too" in now
    assert "# why" not in now


def test_a_file_of_another_shape_is_written_over_not_stumbled_over():
    """Where a table was a word, it is a table."""
    now = with_values('name = "a"\nstretch = "none" # yet\n', DATA, {}, "f")
    assert tomllib.loads(now) == DATA
