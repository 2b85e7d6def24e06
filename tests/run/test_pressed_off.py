"""The whole runner with a power button: whatever is lost in whatever order, the unit ends off."""

import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

sys.path.insert(0, str(Path(__file__).parent))
from small_bench import FIXTURE, Faults, Ran, run_small_soak

from soak.frozen.sheet import PowerButton

PRESSED = {**FIXTURE, "button": {"driver": "test"}}
STOPS = PowerButton(stops=True).model_dump(mode="json")
STAYS_OFF = PowerButton(stops=True, stays_off=True).model_dump(mode="json")
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
    presser_deaf=spans,
    never_stops=st.booleans(),
)


def what(ran: Ran) -> list[str]:
    return [mark.what for mark in ran.marks]


def soaked(found: Faults, button: dict) -> Ran:
    return run_small_soak(found, fixture=PRESSED, button=button)


@settings(max_examples=120)
@given(faults, st.sampled_from([STOPS, STAYS_OFF]))
def test_every_soak_with_a_presser_ends_off_or_with_an_alarm(found, button):
    """The switch's last word is off; the unit is off, by relay or button, or a person is called."""
    ran = soaked(found, button)
    assert not ran.world.runs or "alarm" in what(ran)
    assert not ran.world.told or not ran.world.told[-1][1] or "alarm" in what(ran)
    assert "off proved" in what(ran) or "alarm" in what(ran)


@pytest.mark.parametrize("button", [STOPS, STAYS_OFF])
def test_on_a_good_bench_the_power_is_never_cut_from_a_running_unit(button):
    """Three cycles and the end of the soak: pressed off each time, and only then cut."""
    ran = soaked(Faults(), button)
    assert ran.ended.how == "complete"
    assert ran.world.cut_while_running == []
    assert what(ran).count("start ended") == 3
    assert {m.detail["ended"] for m in ran.marks if m.what == "soft stop"} == {True}


def test_an_operator_who_stops_is_obeyed_at_once():
    """Whoever stops a soak may have smelt something: nobody waits for a soft stop."""
    ran = soaked(Faults(stop_at_s=250.0), STOPS)
    off_s, on = ran.world.told[-1]
    assert not on
    assert off_s - 250.0 < 1.0


def test_a_trip_cuts_at_once():
    """Heat waits for no soft stop."""
    ran = soaked(Faults(hot_from_s=100), STOPS)
    trip = next(mark for mark in ran.marks if mark.what == "trip")
    off_s = next(t_s for t_s, on in ran.world.told if not on and t_s > 95)
    assert off_s - trip.t_s < 1.0
    assert ran.world.cut_while_running


def test_a_check_and_the_guard_that_both_want_the_unit_on_press_once():
    """A silent probe during the first off-time: both switch on again; a second press is off."""
    ran = soaked(Faults(silent=[(0, 1)]), STAYS_OFF)
    starts = [m for m in ran.marks if m.what == "button" and m.detail["does"] == "start"]
    assert len(starts) == 3
    assert all(m.detail["seen"] for m in ran.marks if m.what == "start ended")


def test_a_picture_gone_before_the_press_proves_no_stop():
    """Dark before and dark after says nothing: the stop gets its whole time and ends unknown."""
    script = {
        "name": "small",
        "not_after": "1 h",
        "stretch": [{"name": "run", "lasts": "5 s", "spots": {}}],
    }
    ran = run_small_soak(Faults(), script, PRESSED, button=STOPS | {"stop_limit_s": 30.0})
    stop = next(m for m in ran.marks if m.what == "soft stop")
    assert stop.detail["ended"] is None
    assert stop.detail["after_s"] >= 30.0


def test_power_that_comes_back_after_a_silent_probe_is_pressed_on_again():
    """The guard cut it hard; a unit that stays off would otherwise be off for the rest."""
    ran = soaked(Faults(silent=[(260, 60)]), STAYS_OFF)
    rearmed = next(mark.t_s for mark in ran.marks if mark.what == "rearmed")
    starts = [m.t_s for m in ran.marks if m.what == "button" and m.detail["does"] == "start"]
    assert [t_s for t_s in starts if 0 < t_s - rearmed < 5]
    assert ran.ended.how == "complete"


def test_a_presser_that_never_comes_back_ends_with_the_time_and_off():
    """The soft stop waits for it as long as the script may last, then the power goes."""
    ran = soaked(Faults(presser_deaf=[(70, 1e6)]), STOPS)
    assert not ran.world.is_on
    lost = [m.detail["instrument"] for m in ran.marks if m.what == "bench fault"]
    assert lost[:1] == ["button"]
    assert "alarm" not in what(ran)
