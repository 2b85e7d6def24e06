"""Following a plan: against every course there is, and against its true risks."""

import itertools
import json
import math

import numpy as np
import pytest

from soak.derive.sequential import follow_hours, follow_starts
from soak.judge.planning import hours_plan, starts_plan
from soak.records import canonical_json
from soak.statistics.frozen import frozen, thawed
from soak.statistics.plans import HoursPlan, StartsPlan

SHORT = StartsPlan([-1, -1, 0, 0, 0, 1, 2], [2, 2, 2, 2, 3, 3, 3])
STARTS = starts_plan(0.01, 0.10, 0.05, 0.10)
HOURS = hours_plan(500.0, 250.0, 0.1, 0.1)


def test_every_course_of_a_short_plan_ends_where_the_table_says():
    """The 128 courses of seven starts, weighted, give the risks that the plan computes."""
    accepted = 0.0
    for course in itertools.product([False, True], repeat=7):
        found = follow_starts(SHORT, course)
        assert found.decided != "undecided"
        accepted += np.prod([0.3 if bad else 0.7 for bad in course]) * (found.decided == "accepted")
    assert accepted == pytest.approx(SHORT.outlook(0.3).accepted)


def test_what_came_after_the_decision_is_counted_apart():
    """Good after 28 starts; that the 30th failed is told and changes nothing of the decision."""
    found = follow_starts(STARTS, [False] * 29 + [True])
    assert (found.decided, found.at, found.failures, found.after) == ("accepted", 28, 0, 1)


def test_before_it_decides_a_plan_says_what_it_lacks():
    """Ten good starts of 28: 18 more; with one failed it takes 53 (table of the plan)."""
    assert follow_starts(STARTS, [False] * 10).lacks == 18
    assert follow_starts(STARTS, [False] * 9 + [True]).lacks == 43


def test_hours_are_decided_at_the_first_line_that_is_reached():
    """A plan of two failures by hand: good at 10 without, at 16 with one, bad by 2 or with two."""
    plan = HoursPlan([10.0, 16.0], [2.0, 16.0])
    assert follow_hours(plan, [], 9.9).lacks == pytest.approx(0.1)
    assert follow_hours(plan, [], 12.0).at == 10.0
    assert follow_hours(plan, [1.9], 5.0).decided == "rejected"
    assert follow_hours(plan, [2.1], 15.0).decided == "undecided"
    assert follow_hours(plan, [2.1], 16.0).decided == "accepted"
    assert follow_hours(plan, [2.1, 15.9], 16.0).decided == "rejected"
    later = follow_hours(plan, [11.0], 12.0)
    assert (later.decided, later.failures, later.after) == ("accepted", 0, 1)


@pytest.mark.parametrize("mean", [250.0, 400.0, 500.0])
def test_followed_courses_of_hours_are_accepted_as_often_as_computed(mean):
    """Twenty thousand exponential courses agree with the exact chance within 4 sigma."""
    chance, accepted, number = np.random.default_rng(61124), 0, 20_000
    for _ in range(number):
        losses = np.cumsum(chance.exponential(mean, len(HOURS.accept_at) + 1))
        watched = HOURS.longest
        found = follow_hours(HOURS, [t for t in losses if t <= watched], watched)
        assert found.decided != "undecided"
        accepted += found.decided == "accepted"
    expected = HOURS.outlook(mean).accepted
    assert abs(accepted / number - expected) < 4 * math.sqrt(expected * (1 - expected) / number)


@pytest.mark.parametrize("risk", [0.05, 0.2])
@pytest.mark.parametrize("kinds", [(0.01, 0.10), (0.005, 0.05), (0.02, 0.2), (0.001, 0.3)])
def test_a_frozen_plan_thaws_to_the_same_plan(kinds, risk):
    """Through canonical JSON, as the journal's header holds it, no line of the plan moves."""
    plan = starts_plan(*kinds, risk, risk)
    again = thawed(json.loads(canonical_json(frozen(plan))))
    assert list(again.accept_up_to) == list(plan.accept_up_to)
    assert list(again.reject_from) == list(plan.reject_from)


def test_a_frozen_plan_for_hours_thaws_to_the_same_plan():
    """Times are kept as they are."""
    again = thawed(frozen(HOURS))
    assert list(again.accept_at) == list(HOURS.accept_at)
    assert list(again.reject_at) == list(HOURS.reject_at)


@pytest.mark.parametrize("numbers", [{}, {"accept_at_s": [1.0], "reject_at_s": None}])
def test_numbers_that_are_no_plan_raise(numbers):
    """A header of somebody else's making is refused in words."""
    with pytest.raises(ValueError, match="no plan"):
        thawed(numbers)
