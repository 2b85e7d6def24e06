"""Whatever goes wrong in whatever order, a soak ends off, or calls a person."""

import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))
from small_bench import Faults, Outcome, run_small_soak

spans = st.lists(st.tuples(st.integers(0, 900), st.integers(1, 400)), max_size=3)
sometime = st.one_of(st.just(1e9), st.floats(0, 900))
faults = st.builds(
    Faults,
    deaf=spans,
    welded_from_s=sometime,
    silent=spans,
    hot_from_s=sometime,
    full_at_record=st.one_of(st.just(10**9), st.integers(3, 400)),
    stop_at_s=sometime,
)


def what(outcome: Outcome) -> list[str]:
    return [mark.what for mark in outcome.marks]


@settings(max_examples=150)
@given(faults)
def test_every_soak_ends_off_or_with_an_alarm(found):
    """The relay's last word is off and the picture is gone, or a person was called."""
    outcome = run_small_soak(found)
    said_off = bool(outcome.world.told) and not outcome.world.told[-1][1]
    proved = "off proved" in what(outcome) and not outcome.world.is_on
    assert (said_off and proved) or "alarm" in what(outcome)
    assert outcome.world.is_on is False or "alarm" in what(outcome)


def test_a_soak_without_faults_completes_and_proves_off():
    """A good unit on a good bench: three starts, five minutes, off proved, no alarm."""
    outcome = run_small_soak(Faults())
    assert outcome.ended.how == "complete"
    assert 3 * 60 + 300 < outcome.journal.evidence.ends_s < 3 * 60 + 330
    assert what(outcome).count("start ended") == 3
    assert "alarm" not in what(outcome)
    assert what(outcome)[-1] == "off proved"


def test_a_trip_ends_the_soak_at_once():
    """Within one reading of the trip the power is off and stays off."""
    outcome = run_small_soak(Faults(hot_from_s=100))
    trip = next(mark for mark in outcome.marks if mark.what == "trip")
    assert trip.t_s <= 110
    assert all(not on for t_s, on in outcome.world.told if t_s > trip.t_s)
    assert "tripped" in outcome.ended.why


def test_silence_of_the_guarding_probe_is_a_hole_and_the_soak_goes_on():
    """Power comes back after good readings and the soak still completes."""
    outcome = run_small_soak(Faults(silent=[(300, 30)]))
    assert outcome.ended.how == "complete"
    assert what(outcome).count("silence") == 1
    assert what(outcome).count("rearmed") == 1
    states = [state.state for state in outcome.journal.evidence.states("switch")]
    assert states == ["seen", "blind", "seen"]


def test_a_welded_relay_is_found_and_a_person_is_called():
    """The switch says off, the picture stays: alarm."""
    outcome = run_small_soak(Faults(welded_from_s=200))
    assert "alarm" in what(outcome)
    assert "off not proved" in what(outcome)


def test_a_full_disk_ends_the_soak_off_with_the_cause():
    """What was taken stays, the unit is off, the reason names the disk."""
    outcome = run_small_soak(Faults(full_at_record=60))
    assert outcome.ended.how == "bench fault"
    assert "full" in outcome.ended.why
    assert not outcome.world.is_on


def test_a_deaf_switch_is_tried_again_and_the_time_is_a_hole():
    """A switch that does not answer for a while is blind, not fatal."""
    outcome = run_small_soak(Faults(deaf=[(15, 30)]))
    assert outcome.ended.how == "complete"
    assert "power unanswered" in what(outcome)
    assert not outcome.world.is_on


@pytest.mark.parametrize("stop_at_s", [1.0, 30.0, 200.0])
def test_the_operators_stop_ends_off_and_sealed(stop_at_s):
    """A stop at any time is on record and leaves the unit off."""
    outcome = run_small_soak(Faults(stop_at_s=stop_at_s))
    assert outcome.ended.how == "stopped"
    assert outcome.journal.evidence.seal is not None
    assert not outcome.world.is_on


def test_a_stretch_says_whether_it_was_stopped_or_out_of_time():
    """The operator's stop and the script's own limit are told apart on record."""
    stopped = run_small_soak(Faults(stop_at_s=200.0))
    late = run_small_soak(Faults(silent=[(250, 5000)]))
    ends = {
        name: [mark.detail["because"] for mark in outcome.marks if mark.what == "stretch ends"][-1]
        for name, outcome in (("stopped", stopped), ("late", late))
    }
    assert ends == {"stopped": "stopped", "late": "not after"}
