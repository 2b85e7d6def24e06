"""A demand says what it is judged by: its limit, and the criterion that decides."""

from dataclasses import replace

import pytest
from every_demand import header_of_all

from soak.judge.judging import all_rules, demanded
from soak.terms import params_of

ALWAYS_NOUGHT = {
    *("carried whole", "holds what it claims", "no dropout", "no episode when moved", "no trip"),
    *("off proved", "short breaks", "soft stops", "stick stayed", "supply margin"),
}
"""No script can allow more of these."""
ELSEWHERE = {"port voltage", "steady"}
"""Their limits are terms."""
NEEDS = {
    need.rule: need
    for need in header_of_all().requirements
    if need.limit is not None and need.rule not in ALWAYS_NOUGHT | ELSEWHERE
}


@pytest.mark.parametrize("rule", sorted(NEEDS))
def test_a_demand_says_its_limit(rule):
    """What may be lost, fail or be off is no part of "every"."""
    more = replace(NEEDS[rule], limit=2 * NEEDS[rule].limit + 2.0)
    assert demanded(more) != demanded(NEEDS[rule])


@pytest.mark.parametrize("rule", sorted(ALWAYS_NOUGHT))
def test_a_demand_without_a_limit_in_words_is_always_one_of_none(rule):
    """Else its sentence would demand more than is judged."""
    limits = {need.limit for need in header_of_all().requirements if need.rule == rule}
    assert limits == {0.0}


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        ("starts", "Every start shows a picture within"),
        ("played whole", "Every frame of the clip is read from the"),
        ("reseats", ", but for 2 of them"),
    ],
)
def test_what_may_fail_of_many_is_said(rule, said):
    """Two that are allowed are no "every"."""
    told = str(demanded(replace(NEEDS[rule], limit=2.0)))
    assert said in told
    assert told.endswith(", but for 2 of them")


def test_as_many_ways_are_said_as_a_plug_is_moved():
    """A servo may have positions for some only."""
    need = next(n for n in header_of_all().requirements if n.rule == "no episode when moved")
    two = replace(need, params={**need.params, "movements": ["up", "down"]})
    assert str(demanded(two)).startswith("Moved 2 ways once")


def test_a_window_is_said_in_minutes_and_seconds_as_any_time_is():
    """1000 s are no 16.6667 min."""
    need = next(n for n in header_of_all().requirements if n.rule == "steady")
    odd = replace(need, params={**need.params, "window_s": 1000.0})
    assert "16.6" not in demanded(odd)


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        (
            "dropouts per hour",
            "at most 5 in 5 h 07 min",
        ),  # 5.1 expected; 5 at half the rate by any table
        ("sparkle per hour", "at most 1 in 10 min"),
        ("played steadily", "at most 1 per h"),
        ("few late reads", "at most 1 per h"),
        ("played in colour", "at most 100 %"),
        ("fault gone", "at most 100 %"),
        ("no slow drift", "at most 100 %"),
    ],
)
def test_a_rate_is_said_per_hour_and_a_share_in_percent(rule, said):
    """A bare number beside "12 %" in the sentence would be read as another one."""
    need = replace(NEEDS[rule], limit=1.0)
    assert all_rules()[rule].reads.limit(need, all_rules()[rule].terms_of(need)) == said


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        ("speed kept", "at least 60 %"),
        ("like the reference", "at most 3.0 K"),
        ("fault gone", "at most 5 %"),
    ],
)
def test_a_demand_without_a_limit_is_said_with_the_one_it_is_judged_by(rule, said):
    """The demand, the limit beside it and the judgement are of one number."""
    need = replace(NEEDS[rule], limit=None)
    known = all_rules()[rule]
    assert known.reads.limit(need, known.terms_of(need)) == said


@pytest.mark.parametrize("need", header_of_all().requirements, ids=lambda need: need.id)
def test_a_demand_is_frozen_as_its_rule_writes_it(need):
    """One way into a header: what stands there is the terms themselves, read or written."""
    rule = all_rules()[need.rule]
    assert need.params == params_of(rule.terms_of(need))
