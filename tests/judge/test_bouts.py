"""Stated levels where faults come in bouts, at whole judged soaks: `benchmarks/bouts.py` in short.

Units of known truth with fixed seeds; the pause between bouts is 20 times the gap within them.
"""

import numpy as np
import pytest
from bouts_drawn import HOUR, soak_with
from bouts_judged import (
    BAD_S,
    BY_PLAN,
    GOOD_S,
    NEED,
    PLAN,
    RATIO,
    bounds_of,
    gone_of,
    needed_after,
    plan_of,
)

from soak.derive.course import course_of
from soak.derive.sequential import decide
from soak.judge.judging import judge_requirement

SEEDS = range(1, 61)


@pytest.mark.parametrize(("size", "same"), [(1, False), (2, False), (5, False), (10, True)])
def test_upper_bounds_of_findings_hold(size, same):
    """Of 60 soaks at most 3 print a wrong one at 95 %; counted by faults 0.64 to 0.88 held."""
    found = bounds_of(size, same, 10.0, SEEDS)
    assert found.held.of / found.held.all >= 0.95
    assert found.printed.of / found.printed.all > 0.8, "a bound never printed is no success"


@pytest.mark.parametrize(("size", "same"), [(1, False), (2, False), (5, False), (10, False)])
def test_a_fault_that_nobody_mended_is_seldom_gone(size, same):
    """At most 5 % of intakes may end so; 60 allow for 6 by luck (binomial, 98 %)."""
    found = gone_of(size, same, 6.0, SEEDS)
    assert found.now.of <= 6
    assert found.chance <= 0.06
    assert np.median(found.asked) < 10, "in pauses: a quiet nobody can wait for is no success"


def test_an_hours_plan_accepts_its_bad_unit_no_oftener_than_it_says():
    """Bouts of five: stated 0.099; 60 units allow for 11 by luck. By faults it were 0.5."""
    before, bad, _ = plan_of(5, False, BAD_S, RATIO, SEEDS)
    assert PLAN.outlook(BAD_S).accepted < 0.1
    assert bad.of <= 11
    assert before.of > 20


def test_an_hours_plan_keeps_a_good_unit_whose_bouts_are_short():
    """Ten losses within seconds are one bout; 60 units allow for 11 by luck at 0.1 stated."""
    *_, rejected = plan_of(10, False, GOOD_S, 1000.0, SEEDS)
    assert rejected.of <= 11


def test_what_a_plan_decided_stays_decided_whatever_comes_later():
    """Accepted on what was seen until then, with one bout; later ones only count after."""
    early = [2 * HOUR, 2 * HOUR + 60, 2 * HOUR + 120]
    late = [40 * HOUR, 40 * HOUR + 10, 50 * HOUR]
    until_s = 60 * HOUR
    whole = course_of(soak_with([*early, *late], until_s, BY_PLAN))
    begun = course_of(soak_with(early, until_s, BY_PLAN))
    assert decide(BY_PLAN, begun, 30 * HOUR).decided == "accepted"
    assert decide(BY_PLAN, whole).at == decide(BY_PLAN, begun, 30 * HOUR).at
    assert decide(BY_PLAN, whole).failures == 1
    assert decide(BY_PLAN, whole).after == 2


def test_a_finding_says_how_losses_come_and_why_no_bound_is_stated():
    """Six losses in two bouts: the gap is printed, and two bouts do not tell how they come."""
    times = [HOUR, HOUR + 20, HOUR + 50, 5 * HOUR, 5 * HOUR + 30, 5 * HOUR + 40]
    finding = judge_requirement(NEED, [soak_with(times, 8 * HOUR, NEED)])
    assert finding.value == 6
    assert finding.bound_high is None
    assert "They come in bouts: 2, parted by gaps of " in finding.because
    assert "How often is not bounded: fewer than 5 bouts" in finding.because


def test_losses_in_one_bout_ask_for_the_quiet_of_one():
    """Thirteen within ten minutes: 19 times the time before them and after, not a quarter of it."""
    times = [2 * HOUR + 45.0 * number for number in range(13)]
    assert needed_after(soak_with(times, 5 * HOUR, NEED)) > 19 * 2 * HOUR
