"""Bad input to the judgement: one sentence or an honest grade, never a crash or a guess."""

from dataclasses import replace

import pytest
from made_up_soak import HOT_S, STARTS_S, MadeUpSoak, clean_night, demand

from soak.derive.course import course_of
from soak.errors import UsageError
from soak.frozen.references import Counts
from soak.judge.contradiction import contradictions
from soak.judge.explain.pooled import counts_of
from soak.judge.grade import judge
from soak.judge.judging import judge_requirement
from soak.judge.lacking import to_run_again
from soak.judge.overall import overall_of
from soak.records import Seal, to_json
from soak.rules.core.verdict import Verdict

CAPTURE = {"needs": frozenset({"capture"})}
PROBE = {"needs": frozenset({"probe"}), "check": "spots", "unit": "degC"}
STARTS = demand("starts", params={"promised": 20, "start_limit_s": 60.0}, **CAPTURE)
DEMANDS = (
    STARTS,
    demand("off proved", **CAPTURE),
    demand("no dropout", "capture", **CAPTURE),
    demand("dropouts per hour", "capture", 1.0, **CAPTURE),
    demand("no restart", "capture", **CAPTURE),
    demand("failure free", "", 7200.0, **CAPTURE),
    demand("fault gone", "capture", 0.05, params={"seen": 3, "seen_in_s": 14400.0}, **CAPTURE),
    demand("at most", "probe.outside", 60.0, **PROBE),
    demand("steady", "probe.outside", 3.0, **PROBE),
)


def test_an_empty_journal_is_incomplete_and_everything_is_to_be_run():
    """Nothing recorded: no demand is met or failed, and both stretches are named."""
    soak = MadeUpSoak(clean_night().demanding(*DEMANDS).header)
    judgement = judge([soak])
    assert judgement.because == "incomplete"
    assert {finding.verdict for finding in judgement.findings} == {Verdict.NOT_SHOWN}
    assert {one.number for one in to_run_again(judgement.findings, course_of(soak))} == {1, 2}
    assert overall_of(judgement.findings) is None
    assert counts_of(course_of(soak)) == Counts()


def test_a_soak_stopped_in_its_first_stretch_is_incomplete():
    """Two starts and a stop: nothing of the hot run is guessed."""
    soak = clean_night(starts=2).demanding(*DEMANDS)
    soak.pieces = {"starts": [(0.0, 180.0)]}
    soak.mark_list = [mark for mark in soak.mark_list if mark.t_s < 180]
    soak.state_list = [state for state in soak.state_list if state.t_s < 180]
    soak.readings = {name: (t[t < 180], v[t < 180]) for name, (t, v) in soak.readings.items()}
    soak.ends_s, soak.seal = 180.0, Seal(180.0, "stopped")
    judgement = judge([soak])
    assert judgement.grade == "not ready: incomplete"
    hot = [one for one in judgement.findings if one.requirement.stretch == "hot run"]
    assert {one.verdict for one in hot} == {Verdict.NOT_SHOWN}


def test_a_demand_on_a_check_that_never_ran_is_not_shown():
    """Another script's demand on a check that no soak held: said, and not met by silence."""
    other = demand("no link loss", "link", stretch="hot run", check="link_watch")
    finding = judge_requirement(replace(other, rule="no dropout"), [clean_night()])
    assert finding.verdict == Verdict.NOT_SHOWN
    assert "no soak of this job gathers evidence" in finding.because


def test_contradictory_limits_are_refused_before_judging():
    """At most 40 and at least 60 degrees of one spot: no unit can meet both."""
    low = demand("at least", "probe.outside", 60.0, **PROBE)
    high = demand("at most", "probe.outside", 40.0, **PROBE)
    script = {"name": "wrong", "requirements": [to_json(low), to_json(high)]}
    with pytest.raises(UsageError, match="no unit can meet both"):
        judge([clean_night()], script)


def test_limits_that_leave_room_are_no_contradiction():
    """A band, and limits on two stretches or two spots, may be demanded together."""
    low = demand("at least", "probe.outside", 20.0, **PROBE)
    high = demand("at most", "probe.outside", 60.0, **PROBE)
    assert not list(contradictions([low, high]))
    assert not list(contradictions([low, replace(high, limit=10.0, stretch="starts")]))
    assert not list(contradictions([low, replace(high, limit=10.0, quantity="probe.ambient")]))
    assert list(contradictions([low, replace(high, limit=10.0, stretch="")]))


def test_a_fault_free_end_longer_than_the_soak_is_a_contradiction():
    """Ten hours without a fault cannot stand at the end of eight."""
    tail = demand("failure free", "", 36_000.0, **CAPTURE)
    (found,) = contradictions([tail], 8 * 3600.0)
    assert found.key == tail.id
    assert "10 h" in found.what
    assert not list(contradictions([tail], STARTS_S + HOT_S + 36_000.0))


def test_a_soak_shorter_than_the_window_of_a_steady_temperature_is_a_contradiction():
    """Half an hour in one run is not to be had in twenty minutes."""
    steady = demand("steady", "probe.outside", 3.0, params={"window_s": 1800.0}, **PROBE)
    (found,) = contradictions([steady], 1200.0)
    assert found.key == steady.id
    assert "30 min" in found.what
    assert not list(contradictions([steady], 1800.0))


@pytest.mark.parametrize("confidence", [95, 0.0, 1.0, -0.5])
def test_a_confidence_in_percent_cannot_be_demanded(confidence):
    """95 instead of 0.95 never gets as far as a bound."""
    with pytest.raises(ValueError, match="lies between 0 and 1"):
        replace(STARTS, confidence=confidence)
