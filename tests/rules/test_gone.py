"""A fault seen before the repair: gone, back, or not watched for long enough."""

from dataclasses import replace

import pytest
from made_up_soak import HOT_S, STARTS_S, clean_night, demand

from soak.judge.judging import judge_requirement
from soak.rules.core.verdict import Verdict
from soak.rules.gone import FAULT_GONE

HOT = STARTS_S + 3600.0


def gone(seen, seen_in_h, **more):
    """Return the demand that a fault, seen so often before, is gone."""
    params = {"seen": seen, "bouts": seen, "seen_in_s": seen_in_h * 3600.0}
    needs = frozenset({"capture"})
    return demand("fault gone", "capture", 0.05, params=params, needs=needs, **more)


def test_a_frequent_fault_is_gone_after_four_quiet_hours():
    """Seen 5 times in 4 h: the chance of 4 quiet hours is (4/8)^5 = 1/32, by hand."""
    finding = judge_requirement(gone(5, 4), [clean_night()])
    assert finding.verdict == Verdict.MET, finding.because
    assert finding.value == pytest.approx(1 / 32, rel=1e-3)
    assert "3.1 %" in finding.because


def test_faults_of_which_nobody_said_how_they_came_are_one_bout():
    """5 times in 4 h may have been one bout: (4/8)^1 = 50 %, and 19 * 4 h are needed for 5 %."""
    own = gone(5, 4)
    params = {key: value for key, value in own.params.items() if key != "bouts"}
    finding = judge_requirement(replace(own, params=params), [clean_night()])
    assert finding.verdict == Verdict.NOT_SHOWN
    assert finding.value == pytest.approx(0.5, rel=1e-3)
    assert "5 times in 4 h, which may have been 1 bout" in finding.because
    assert "72 h more" in finding.because


def test_a_rare_fault_needs_longer_and_says_how_long():
    """Seen 3 times in 4 h: 6.86 h are needed for 5 %, so 2 h 51 min are lacking after 4 h."""
    finding = judge_requirement(gone(3, 4), [clean_night()])
    assert finding.verdict == Verdict.NOT_SHOWN
    assert "2 h 51 min more" in finding.because


def test_quiet_time_adds_up_over_the_soaks_of_a_job():
    """Two quiet nights of four hours do what one could not: (4/12)^3 = 3.7 %."""
    nights = [clean_night("S1"), clean_night("S2", "2026-01-06T21:00:00Z")]
    finding = judge_requirement(gone(3, 4), nights)
    assert finding.verdict == Verdict.MET, finding.because
    assert finding.value == pytest.approx((4 / 12) ** 3, rel=1e-3)


def test_one_recurrence_is_enough_against_it():
    """However long the quiet time: a fault that came again is not gone, and where is told."""
    soak = clean_night()
    soak.spell("capture", HOT, HOT + 3, "black")
    finding = judge_requirement(gone(50, 1), [soak])
    assert finding.verdict == Verdict.NOT_MET
    assert finding.pointers[0].from_s == pytest.approx(HOT, abs=1)
    assert FAULT_GONE.reads.found(finding) == "came again once"


def test_blind_time_is_not_quiet_time():
    """Half a night that the bench did not see counts for nothing."""
    soak = clean_night()
    soak.spell("capture", HOT, HOT + HOT_S / 2, "blind")
    finding = judge_requirement(gone(5, 4), [soak])
    assert finding.verdict == Verdict.NOT_SHOWN
    assert finding.detail["quiet_s"] == pytest.approx(HOT_S / 2, abs=60)


def test_another_kind_of_fault_is_another_demands_business():
    """A demand on restarts takes no notice of a dropout."""
    soak = clean_night()
    soak.spell("capture", HOT, HOT + 3, "black")
    own = gone(50, 1)
    own = replace(own, params={**own.params, "kinds": ["restart"]})
    assert judge_requirement(own, [soak]).verdict == Verdict.MET


def test_no_luck_at_all_cannot_be_shown():
    """(T0/(T0+T1))^n is above 0 however long the quiet: a demand of 0 % is told, not divided by."""
    finding = judge_requirement(replace(gone(3, 4), limit=0.0), [clean_night()])
    assert finding.verdict == Verdict.NOT_SHOWN
    assert "demand more than 0.0 %" in finding.because
