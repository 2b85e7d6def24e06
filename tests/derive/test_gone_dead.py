"""What tells a dead unit from a relay that answers and stays open, witness by witness.

A night whose unit shows nothing any more from a start at 6000 s on, while all else goes on.
"""

import numpy as np
import pytest
from made_up_soak import FIXTURE, clean_night

from soak.derive.course import course_of
from soak.records import State

OFF_S, ON_S = 5970.0, 6000.0


def dead_from_a_start(off_s=OFF_S, **wired):
    """Return the night, dead from an off at `off_s` on; `wired` goes into its fixture."""
    soak = clean_night()
    soak = soak.with_header(fixture={**FIXTURE, **wired})
    soak.mark(off_s, "power", on=False, channel="1", why="")
    soak.mark(ON_S, "power", on=True, channel="1", why="")
    soak.spell("capture", off_s + 0.1, soak.ends_s - 10.0, "no signal")
    soak.state_list = [one for one in soak.state_list if one.t_s < soak.ends_s - 11.0]
    t_s, degc = soak.readings["probe.outside"]
    cold = 21.0 + (degc - 21.0) * np.exp(-np.maximum(t_s - off_s, 0.0) / 600)
    soak.readings["probe.outside"] = (t_s, cold)
    return soak


def metered(on, off, dead, unit):
    """Return the night with a meter at the inlet: what it reads on, off, and once dead."""
    probe = {**FIXTURE["probe"], "inlet": {"unit": unit, "accuracy": None, "spot": ""}}
    soak = dead_from_a_start(probe=probe)
    soak.state_list.append(State(0.0, "probe.inlet", "seen"))
    t_s = soak.readings["probe.outside"][0]
    value = np.full_like(t_s, off)
    for begin_s, end_s in course_of(soak).power:
        value[(t_s >= begin_s) & (t_s <= end_s)] = on if end_s < ON_S else dead
    soak.readings["probe.inlet"] = (t_s, value)
    return soak


def unknown(soak):
    """Return from when on nobody knows; None if somebody does."""
    found = course_of(soak).gone_dead
    return None if found is None else found.from_s


def test_without_a_witness_nobody_knows_from_the_start_that_failed():
    """From the moment that the switch said on."""
    assert unknown(dead_from_a_start()) == ON_S


@pytest.mark.parametrize(
    ("meter", "since"),
    [
        ((12.0, 0.0, 12.0, "V"), None),
        ((12.0, 0.0, 0.0, "V"), None),  # the supply was gone: a hole of its own
        ((12.0, 12.0, 12.0, "V"), ON_S),  # it sits before the switch
        ((0.85, 0.0, 0.42, "A"), None),
        ((0.85, 0.0, 0.0, "A"), ON_S),  # a blown fuse, or an open relay
        ((0.85, 0.01, 0.02, "A"), ON_S),  # its own error
        ((9.0, 0.3, 5.0, "W"), None),
        ((9.0, 0.3, 0.3, "W"), ON_S),  # an adapter before the switch draws so much by itself
    ],
)
def test_a_meter_tells_what_only_power_makes_it_read(meter, since):
    """Against what it reads while the switch is off."""
    assert unknown(metered(*meter)) == since


def test_one_reading_alone_proves_no_power():
    """A garbled line may say anything once."""
    soak = metered(0.85, 0.0, 0.0, "A")
    t_s, value = soak.readings["probe.inlet"]
    value[np.searchsorted(t_s, ON_S + 500.0)] = 0.85
    assert unknown(soak) == ON_S


@pytest.mark.parametrize(("lasts_s", "since"), [(20.0, ON_S), (200.0, None)])
def test_a_black_picture_proves_power_where_no_signal_is_shown_without(lasts_s, since):
    """But not one so short that a card about to fail may have made it."""
    soak = dead_from_a_start()
    soak.spell("capture", ON_S + 300.0, ON_S + 300.0 + lasts_s, "black")
    assert unknown(soak) == since


def test_a_card_that_shows_black_without_a_signal_proves_nothing_by_it():
    """Black is what it showed while the unit was off, too."""
    soak = dead_from_a_start()
    soak.state_list = [
        State(one.t_s, "capture", "black", one.within_s) if one.state == "no signal" else one
        for one in soak.state_list
    ]
    assert unknown(soak) == ON_S


def test_a_spot_that_warms_is_fed_and_a_torn_probe_tells_nothing():
    """Six kelvin over its coolest, by hand; 850 degC is no temperature of a unit."""
    soak = dead_from_a_start()
    t_s, degc = soak.readings["probe.outside"]
    late = t_s > ON_S + 6000.0
    soak.readings["probe.outside"] = (t_s, degc + np.where(late, 6.0, 0.0))
    assert unknown(soak) is None
    soak.readings["probe.outside"] = (t_s, np.where(late, 850.0, degc))
    assert unknown(soak) == ON_S


@pytest.mark.parametrize(("proved", "since"), [(True, ON_S), (False, None)])
def test_a_stick_seen_up_to_a_short_offs_end_tells_nothing_where_off_was_proved(proved, since):
    """Two seconds off: what sees it as before when the power comes does not see the power."""
    soak = dead_from_a_start(ON_S - 2.0)
    soak.state_list = [one for one in soak.state_list if one.source != "stick"]
    for begin_s, end_s in course_of(soak).power:
        soak.state_list.append(State(begin_s + 1.0, "stick", "seen"))
        if end_s < ON_S - 2.0:
            soak.state_list.append(State(end_s + 1.0, "stick", "gone"))
    soak.state_list.sort(key=lambda one: one.t_s)
    if proved:
        soak.mark(ON_S - 1.5, "off proved", after_s=0.5, by="capture")
    assert unknown(soak) == since


def test_one_that_died_with_its_power_on_is_charged():
    """Its picture was gone before the switch was opened last."""
    soak = dead_from_a_start()
    soak.spell("capture", OFF_S - 600.0, OFF_S + 0.1, "no signal")
    assert unknown(soak) is None


def test_a_person_who_is_the_switch_sees_what_the_plug_does():
    """No contact of a relay is in question."""
    by_hand = {"driver": "by_hand", "channel": "1"}
    assert unknown(dead_from_a_start(switch=by_hand)) is None
