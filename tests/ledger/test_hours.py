"""What happened within one day: an hour tells before from after, where a day cannot."""

from datetime import datetime, timedelta

import pytest

from soak.derive.course import Course
from soak.desk.soaking.grading import as_restated
from soak.errors import LedgerError
from soak.judge.grade import judge
from soak.ledger.days import When, read_when
from soak.ledger.entries import NeedsAnyway

from .conftest import NOW


@pytest.fixture
def unit(ledger):
    return ledger.add_unit(tag="S1", serial="SP40-0017", model="Ferrow SP-40", bought="2026-01-01")


@pytest.fixture
def soak(ledger, unit, soaked, judged):
    """Take in a soak of 110 s; return it with the minutes in which it began and ended."""
    evidence = soaked(ledger, "S1", "soak-1")
    ledger.ingest(evidence, judged("soak-1"))
    began = datetime.fromisoformat(evidence.sessions()[0].utc).astimezone()
    return evidence, began, began + timedelta(seconds=evidence.seal.t_s)


def typed(moment):
    return f"{moment:%Y-%m-%d %H:%M}"


def test_a_sale_of_the_morning_does_not_stand_on_the_soak_of_the_afternoon(ledger, soak):
    """Both are of one day: what was sold at an hour was not yet graded by what ended after it."""
    _, began, ended = soak
    before = began - timedelta(minutes=30)
    with pytest.raises(NeedsAnyway, match="soak-1 ended only after that sale"):
        ledger.sold("S1", where="market", on=typed(before))
    sale = ledger.sold("S1", where="market", on=typed(ended + timedelta(minutes=1)))
    assert sale.although == ""


def test_a_photograph_is_tied_to_the_soak_that_had_ended_when_it_was_taken(ledger, soak):
    """Taken at nine and kept in the evening it shows nothing that was soaked at noon."""
    evidence, began, ended = soak
    what = {"what": "as it came back", "file": "a.jpg", "sha256": "0" * 64}
    assert ledger.photograph("S1", **what, on=typed(began - timedelta(hours=1))) == ""
    after = ledger.photograph("S1", **what, on=typed(ended + timedelta(minutes=1)))
    assert after == evidence.file_sha256


def test_a_unit_opened_while_it_was_soaked_is_not_ready(ledger, soaked, judged, unit):
    """Opened in the middle, one soak saw two states of the unit; opened after, it saw one."""
    evidence = soaked(ledger, "S1", "soak-1", ends_s=7200.0)
    ledger.ingest(evidence, judged("soak-1"))
    began = datetime.fromisoformat(evidence.sessions()[0].utc).astimezone()
    ledger.opened("S1", why="a look", on=typed(began + timedelta(minutes=60)))
    ledger.opened("S1", why="another", on=typed(began + timedelta(minutes=180)))
    restated = ledger.restated(evidence.header)
    assert [(one.why, one.during) for one in restated.opened] == [
        ("a look", True),
        ("another", False),
    ]
    found = judge([Course(evidence, restated.header)])
    (point,) = [one for one in found.open_points if "opened" in one]
    assert "opened while soak soak-1 ran" in point
    entry = ledger.unit_card("S1").lines[-2].entry
    assert ledger.unit_card("S1").lines[-2].text.endswith("a look")
    ledger.withdraw_entry("S1", entry, because="it was S2", by="SM")
    found = judge([as_restated(ledger, evidence)])
    assert not any("opened" in one for one in found.open_points)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("2026-06-15", "2026-06-15"),
        ("2026-06-15 09:30", "2026-06-15 09:30"),
        ("2026-06-15T09:30", "2026-06-15 09:30"),
        ("today 09:30", "2026-06-15 09:30"),
        ("Yesterday", "2026-06-14"),
        ("yesterday 23:59", "2026-06-14 23:59"),
        ("", "2026-06-15 12:00"),
    ],
)
def test_a_day_and_an_hour_are_read_as_people_write_them(text, told):
    """Without an hour none is made up; without anything it is now."""
    assert str(read_when(text, NOW)) == told


@pytest.mark.parametrize("text", ["2026-06-15 25:00", "09:30", "today noon", "2026-13-01", "15.6."])
def test_what_is_no_time_is_one_sentence(text):
    """It says how to write one."""
    with pytest.raises(LedgerError, match=r"is not a date; write it like 2026-06-15, or"):
        read_when(text, NOW)


def test_what_has_no_hour_is_before_nothing_of_its_day():
    """A day alone refuses nothing of the same day; two hours do."""
    day, nine = When(NOW.date()), When(NOW.date(), NOW.replace(hour=9))
    noon = When(NOW.date(), NOW)
    assert not day.before(nine)
    assert not nine.before(day)
    assert nine.before(noon)
    assert When(NOW.date() - timedelta(days=1)).before(nine)
