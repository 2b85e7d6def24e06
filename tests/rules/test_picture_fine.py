"""Rules about fine faults of the picture: met, not met, not shown."""

import pytest
from made_up_soak import HOT_S, STARTS_S, clean_night, demand

from soak.judge.judging import judge_requirement
from soak.records import State
from soak.rules.core.verdict import Verdict

CAPTURE = {"needs": frozenset({"capture"}), "longest_blind_s": 300.0}
HOT = STARTS_S + 3600.0
RULES = [("no tint", "tint"), ("no torn", "torn"), ("sparkle per hour", "sparkle")]


def night(kind, times):
    """Return a clean night with so many seconds of a fine fault, a minute apart."""
    soak = clean_night()
    source = f"capture.{kind}"
    soak.state_list.append(State(0.0, source, "clean"))
    for number in range(times):
        at_s = HOT + 60.0 * number
        soak.state_list += [State(at_s, source, kind), State(at_s + 1, source, "clean")]
    return soak


@pytest.mark.parametrize(("rule", "kind"), RULES)
def test_a_clean_night_keeps_the_requirement(rule, kind):
    """The picture was looked at closely and nothing was found."""
    finding = judge_requirement(demand(rule, f"capture.{kind}", 0.0, **CAPTURE), [night(kind, 0)])
    assert finding.verdict is Verdict.MET


@pytest.mark.parametrize(("rule", "kind"), RULES)
def test_three_faults_break_it_and_are_pointed_at(rule, kind):
    """Each is counted once, and the finding says where to look."""
    finding = judge_requirement(demand(rule, f"capture.{kind}", 0.0, **CAPTURE), [night(kind, 3)])
    assert finding.verdict is Verdict.NOT_MET
    assert [pointer.from_s for pointer in finding.pointers] == [HOT, HOT + 60, HOT + 120]


def test_sparkle_is_a_rate():
    """Four times in a stretch of 4 h is once an hour, which is allowed here."""
    assert HOT_S == 4 * 3600
    found = demand("sparkle per hour", "capture.sparkle", 1.2, **CAPTURE)
    assert judge_requirement(found, [night("sparkle", 4)]).verdict is Verdict.MET


@pytest.mark.parametrize(("rule", "kind"), RULES)
def test_a_picture_never_looked_at_closely_shows_nothing(rule, kind):
    """Without a single state of that kind nobody knows."""
    finding = judge_requirement(demand(rule, f"capture.{kind}", 0.0, **CAPTURE), [clean_night()])
    assert finding.verdict is Verdict.NOT_SHOWN
