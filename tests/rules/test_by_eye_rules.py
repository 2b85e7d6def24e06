"""What somebody saw: which looks count, what a missed one does, and what is never claimed."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest
from every_demand import by_eye, header_of_all
from made_up_soak import MadeUpSoak

from soak.judge.judging import judge_requirement
from soak.records import Requirement, Session
from soak.report.contents.wording import as_tested
from soak.rules.core.verdict import Finding, Verdict

HEADER = header_of_all()
NEEDS = {need.rule: need for need in by_eye()}
STARTS = replace(NEEDS["starts by eye"], params={**NEEDS["starts by eye"].params, "promised": 3})
MOVED, PICTURE = NEEDS["moved by eye"], NEEDS["picture by eye"]
YES = {"answer": "yes", "by": "operator", "initials": "SM"}
NO = {**YES, "answer": "no"}
SILENT = {"answer": None, "by": "nobody"}


def soak(need: Requirement, *answers: Mapping[str, Any], off: str = "off proved") -> MadeUpSoak:
    """Return a soak of cycles of 100 s, an answer in each 60 s after power came."""
    made = MadeUpSoak(replace(HEADER, requirements=(need,)), ends_s=10_000.0)
    made.session_list.append(Session(1, "0", "b", "2026-01-05T21:00:00Z", 0.0, 0.0, "first"))
    made.pieces[need.stretch] = [(0.0, 10_000.0)]
    made.mark(0.0, "stretch begins", need.stretch)
    for number, answer in enumerate(answers, 1):
        t_s = number * 100.0
        made.mark(t_s, "power", on=False, channel="1", why="")
        made.mark(t_s + 2.0, off, by="eye")
        made.mark(t_s + 30.0, "power", on=True, channel="1", why="")
        told = {"id": f"{need.quantity} {number}", **answer}
        made.mark(t_s + 90.0, "answer", need.stretch, need.check, **told)
    made.mark(10_000.0, "stretch ends", need.stretch, because="done")
    return made


def found(need: Requirement, *answers: Mapping[str, Any], **more: str) -> Finding:
    return judge_requirement(need, [soak(need, *answers, **more)])


def test_three_starts_seen_are_met_by_eye_without_a_time_or_a_bound():
    """By whom is said; what an eye cannot tell is said, too."""
    finding = found(STARTS, YES, YES, {**YES, "initials": "AB"})
    assert finding.verdict is Verdict.MET
    assert str(finding.judged_by) == "by eye, by SM and AB"
    assert (finding.bound_low, finding.bound_high, finding.over) == (None, None, 3)
    assert "nobody knows how long a start took" in str(finding.because)
    assert str(as_tested(finding).found) == "3 of 3 worked, by eye, by SM and AB"


def test_a_start_that_showed_nothing_is_not_met():
    """With or without initials: a fault counts even with holes."""
    assert found(STARTS, YES, NO, YES).verdict is Verdict.NOT_MET
    finding = found(STARTS, {"answer": "no", "by": "operator"}, SILENT, YES)
    assert (finding.verdict, finding.value, finding.over) == (Verdict.NOT_MET, 1, 2)


def test_after_a_start_that_showed_nothing_to_the_end_nobody_knows_whether_power_came():
    """A relay that answers and stays open looks the same to an eye."""
    finding = found(STARTS, YES, NO, NO)
    assert finding.verdict is Verdict.NOT_SHOWN
    assert "another channel under this unit" in str(finding.why)


@pytest.mark.parametrize("missed", [SILENT, {"answer": "yes", "by": "operator"}])
def test_a_start_that_nobody_saw_is_not_counted_and_counted_as_missing(missed):
    """Silence and an answer without initials: not dropped unsaid."""
    finding = found(STARTS, YES, missed, YES)
    assert (finding.verdict, finding.over) == (Verdict.NOT_SHOWN, 2)
    assert str(finding.why) == "only 2 of 3 were seen"
    assert finding.detail["missed"] == 1


def test_beside_a_failure_the_unseen_starts_are_told():
    """The sentence stands with the finding."""
    finding = found(STARTS, NO, SILENT, YES)
    assert "1 more was not seen: it is not counted." in str(finding.because)


@pytest.mark.parametrize("off", ["off not proved", "goes on"])
def test_a_start_without_an_off_before_it_is_none(off):
    """A welded relay starts nothing, and off that nobody saw is not seen."""
    assert found(STARTS, YES, YES, YES, off=off).verdict is Verdict.NOT_SHOWN
    assert found(STARTS, NO, NO, NO, off=off).verdict is Verdict.NOT_SHOWN


def test_one_loss_at_a_movement_is_not_met():
    """And that a short one can be missed stands beside every result."""
    moved = replace(MOVED, params={**MOVED.params, "promised": 3})
    finding = found(moved, YES, NO, YES)
    assert finding.verdict is Verdict.NOT_MET
    assert "By eye a short break can be missed" in str(finding.because)
    assert found(moved, YES, YES, YES).verdict is Verdict.MET
    assert found(moved, YES, SILENT, YES).verdict is Verdict.NOT_SHOWN


def test_looks_say_nothing_of_the_time_between_them():
    """As many as were asked for must be answered; no rate is stated."""
    finding = found(PICTURE, YES, YES)
    assert finding.verdict is Verdict.MET
    assert "Between two looks nobody watched" in str(finding.because)
    assert finding.bound_high is None
    assert found(PICTURE, YES, SILENT).verdict is Verdict.NOT_SHOWN
    assert found(PICTURE, YES, NO).verdict is Verdict.NOT_MET


def test_what_is_seen_without_power_counts_neither_way():
    """The guard may have cut it."""
    made = soak(PICTURE, NO)
    made.mark(150.0, "trip", source="probe.outside", value=71.0, limit=70.0)
    assert judge_requirement(PICTURE, [made]).verdict is Verdict.NOT_SHOWN
