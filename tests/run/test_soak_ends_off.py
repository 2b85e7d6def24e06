"""Whatever goes wrong in whatever order, a soak ends off, or calls a person."""

import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))
from small_bench import Faults, Ran, run_small_soak

from soak.judge.grade import judge

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


def what(ran: Ran) -> list[str]:
    return [mark.what for mark in ran.marks]


@settings(max_examples=150)
@given(faults)
def test_every_soak_ends_off_or_with_an_alarm(found):
    """The relay's last word is off and the picture is gone, or a person was called."""
    ran = run_small_soak(found)
    said_off = bool(ran.world.told) and not ran.world.told[-1][1]
    proved = "off proved" in what(ran) and not ran.world.is_on
    assert (said_off and proved) or "alarm" in what(ran)
    assert ran.world.is_on is False or "alarm" in what(ran)


def test_a_soak_without_faults_completes_and_proves_off():
    """A good unit on a good bench: three starts, five minutes, off proved, no alarm."""
    ran = run_small_soak(Faults())
    assert ran.ended.how == "complete"
    assert 3 * 60 + 300 < ran.journal.evidence.ends_s < 3 * 60 + 330
    assert what(ran).count("start ended") == 3
    assert "alarm" not in what(ran)
    assert what(ran)[-1] == "off proved"


def test_a_trip_ends_the_soak_at_once():
    """Within one reading of the trip the power is off and stays off."""
    ran = run_small_soak(Faults(hot_from_s=100))
    trip = next(mark for mark in ran.marks if mark.what == "trip")
    assert trip.t_s <= 110
    assert all(not on for t_s, on in ran.world.told if t_s > trip.t_s)
    assert "tripped" in ran.ended.why


def test_a_trip_that_the_switch_does_not_confirm_is_said_first_and_the_worst_of_all():
    """Said before the off is carried out, tried for ever, and the first sentence of the grade."""
    ran = run_small_soak(Faults(hot_from_s=100, deaf=[(90, 1e6)]))
    told = what(ran)
    assert told.index("trip") < told.index("power unanswered")
    found = judge([ran.journal.evidence])
    assert found.because == "failed"
    assert found.reason.startswith("At 105 s hot passed its trip")
    assert "the switch never confirmed it" in found.reason


def test_a_trip_that_is_confirmed_late_is_told_with_how_late():
    """The relay was deaf for a minute and then answered."""
    ran = run_small_soak(Faults(hot_from_s=100, deaf=[(90, 75)]))
    assert not ran.world.is_on
    assert "confirmed it only 64 s later" in judge([ran.journal.evidence]).reason


def test_a_trip_that_is_confirmed_at_once_says_nothing_of_the_switch():
    """The usual case: the reason is the heat alone."""
    found = judge([run_small_soak(Faults(hot_from_s=100)).journal.evidence])
    assert found.because == "failed"
    assert "confirmed" not in found.reason


def test_silence_of_the_guarding_probe_is_a_hole_and_the_soak_goes_on():
    """Power comes back after good readings and the soak still completes."""
    ran = run_small_soak(Faults(silent=[(300, 30)]))
    assert ran.ended.how == "complete"
    assert what(ran).count("silence") == 1
    assert what(ran).count("rearmed") == 1
    states = [state.state for state in ran.journal.evidence.states("switch")]
    assert states == ["seen", "blind", "seen"]


def test_a_welded_relay_is_found_and_a_person_is_called():
    """The switch says off, the picture stays: alarm."""
    ran = run_small_soak(Faults(welded_from_s=200))
    assert "alarm" in what(ran)
    assert "off not proved" in what(ran)


def test_a_full_disk_ends_the_soak_off_with_the_cause():
    """What was taken stays, the unit is off, the reason names the disk."""
    ran = run_small_soak(Faults(full_at_record=60))
    assert ran.ended.how == "bench fault"
    assert "full" in ran.ended.why
    assert not ran.world.is_on


def test_a_deaf_switch_is_tried_again_and_the_time_is_a_hole():
    """A switch that does not answer for a while is blind, not fatal."""
    ran = run_small_soak(Faults(deaf=[(15, 30)]))
    assert ran.ended.how == "complete"
    assert "power unanswered" in what(ran)
    assert not ran.world.is_on


@pytest.mark.parametrize("stop_at_s", [1.0, 30.0, 200.0])
def test_the_operators_stop_ends_off_and_sealed(stop_at_s):
    """A stop at any time is on record and leaves the unit off."""
    ran = run_small_soak(Faults(stop_at_s=stop_at_s))
    assert ran.ended.how == "stopped"
    assert ran.journal.evidence.seal is not None
    assert not ran.world.is_on


def test_a_stretch_says_whether_it_was_stopped_or_out_of_time():
    """The operator's stop and the script's own limit are told apart on record."""
    stopped = run_small_soak(Faults(stop_at_s=200.0))
    late = run_small_soak(Faults(silent=[(250, 5000)]))
    ends = {
        name: [mark.detail["because"] for mark in ran.marks if mark.what == "stretch ends"][-1]
        for name, ran in (("stopped", stopped), ("late", late))
    }
    assert ends == {"stopped": "stopped", "late": "not after"}
