"""Rules about fine faults of the picture: met, not met, not shown."""

from dataclasses import replace

import pytest
from made_up_soak import HOT_S, STARTS_S, clean_night, demand

from soak.judge.judging import judge_requirement
from soak.records import State
from soak.report.contents.grouping import together
from soak.report.contents.wording import as_tested
from soak.rules.core.verdict import Verdict

CAPTURE = {"needs": frozenset({"capture"}), "longest_blind_s": 300.0}
HOT = STARTS_S + 3600.0
RULES = [("no tint", "tint"), ("no torn", "torn"), ("sparkle per hour", "sparkle")]


def night(kind, times, apart_s=60.0):
    """Return a clean night with so many seconds of a fine fault, so far apart."""
    soak = clean_night()
    source = f"capture.{kind}"
    soak.state_list.append(State(0.0, source, "clean"))
    for number in range(times):
        at_s = HOT + apart_s * number
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


@pytest.mark.parametrize(("rule", "kind"), RULES)
def test_a_picture_not_yet_looked_at_closely_is_no_fault(rule, kind):
    """Looked at from the middle of the night on: the first half is a hole, not a fault."""
    soak = clean_night()
    soak.state_list.append(State(STARTS_S + HOT_S / 2, f"capture.{kind}", "clean"))
    need = demand(rule, f"capture.{kind}", 0.0, **CAPTURE)
    for stretch in ("hot run", ""):
        finding = judge_requirement(replace(need, stretch=stretch), [soak])
        assert finding.verdict is Verdict.NOT_SHOWN
        assert "not looked at closely enough" in finding.because


@pytest.mark.parametrize(("rule", "kind"), RULES[:2])
def test_counts_of_stretches_add_up_and_rates_do_not(rule, kind):
    """Six faults in one stretch and five in another are eleven, with the bounds of each."""
    need = demand(rule, f"capture.{kind}", 0.0, **CAPTURE)
    first, second = (
        judge_requirement(need, [night(kind, times, 1500.0).demanding(need)]) for times in (6, 5)
    )
    (line,) = together([first, replace(second, requirement=replace(need, stretch="warm run"))])
    assert line.found == "11"
    assert line.bound.startswith("hot run: less often than 1 bout in ")
    assert "; warm run: less often than 1 bout in " in line.bound


def test_what_sparkles_is_read_with_its_bound():
    """Five times in 4 h less 5 s: chi2(95 %, 12) / 2 = 10.51 (NIST 8.4.5.1), one in 22 min 49 s."""
    need = demand("sparkle per hour", "capture.sparkle", 2.0, **CAPTURE)
    said = as_tested(judge_requirement(need, [night("sparkle", 5, 1800.0)]))
    assert said.bound == "Less often than 1 bout in 22 min 49 s of such running (95 % confidence)"


def test_sparkles_close_together_are_one_bout_of_which_no_rate_is_bounded():
    """Four within four minutes of four hours are one bout, which tells nothing of how they come."""
    need = demand("sparkle per hour", "capture.sparkle", 1.2, **CAPTURE)
    finding = judge_requirement(need, [night("sparkle", 4)])
    assert finding.value == pytest.approx(1.0)
    assert finding.bound_high is None
    assert "They come in bouts: 1, with gaps of less than " in finding.because
    assert "fewer than 5 bouts do not tell how they come." in finding.because
