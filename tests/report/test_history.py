"""Passing on the third try is seen."""

from soak.frozen.references import EarlierSoak
from soak.report.contents.history import in_one_line, list_soaks


def earlier(number: int, grade: str) -> EarlierSoak:
    return EarlierSoak(f"2026020{number}-x", "quick", grade, f"2026-02-0{number}")


def test_the_third_soak_names_the_two_before_it(make_night, make_judgement, make_context):
    """Two earlier ones of different grades are both told in the one line."""
    context = make_context(
        earlier_soaks=(earlier(1, "not ready: failed"), earlier(2, "not ready: incomplete"))
    )
    listed = list_soaks(make_judgement(), [make_night()], context)
    line = in_one_line(listed)
    assert line.startswith("Third soak since the repair")
    assert "1 not ready: failed, 1 not ready: incomplete" in line


def test_an_only_soak_says_that_it_is_the_only_one(make_night, make_judgement, make_context):
    """One soak: first and only."""
    listed = list_soaks(make_judgement(), [make_night()], make_context(earlier_soaks=()))
    assert in_one_line(listed) == "First and only soak since the repair."


def test_a_soak_known_to_header_and_ledger_is_listed_once(make_night, make_judgement, make_context):
    """The same id from two places, or the judged soak itself, is one line."""
    twice = {"soak_id": "20260201-x", "script": "quick", "grade": "ready", "on": "2026-02-01"}
    night = make_night(references={"earlier_soaks": [twice]})
    own = EarlierSoak(night.header.soak_id, "overnight", "ready", "2026-03-01")
    context = make_context(earlier_soaks=(earlier(1, "ready"), own))
    listed = list_soaks(make_judgement(), [night], context)
    assert [one.soak_id for one in listed] == ["20260201-x", night.header.soak_id]
    assert listed[-1].grade == "not ready: failed"
