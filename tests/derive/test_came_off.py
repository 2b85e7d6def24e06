"""A probe that came off its spot, and what must not be taken for one."""

import numpy as np
import pytest
from short_soak import soak

from soak.derive.events.came_off import came_off

EVERY_S = 5.0
BENCH = (
    '[switch]\ndriver = "simulated"\n[capture]\ndriver = "simulated"\nport = "video"\n'
    + "".join(
        f'[probe.{spot}]\ndriver = "simulated"\nspot = "{spot}"\naccuracy = 1.0\n'
        for spot in ("heatsink", "outside", "ambient")
    )
)


def times(until_s):
    return np.arange(0.0, until_s, EVERY_S)


def newton(t_s, from_k, to_k, tau_s):
    """Newton's law of cooling: T = Tf + (T0 - Tf) exp(-t / tau)."""
    return to_k + (from_k - to_k) * np.exp(-t_s / tau_s)


def found(t_s, degc, awake, air=True):
    ambient = (t_s, np.full(len(t_s), 20.0)) if air else None
    return came_off("probe.x", t_s, degc, ambient, awake)


@pytest.mark.parametrize("air", [True, False])
def test_a_tip_in_free_air_is_found_from_when_it_came_off(air):
    """At 3600 s a tip of 20 s leaves a spot 35 K above the room: found within 3 min, to the end."""
    t_s = times(7200)
    warm = 20.0 + newton(t_s, 0.0, 35.0, 480.0)
    degc = np.where(t_s < 3600, warm, 20.0 + newton(t_s - 3600, 35.0, 0.5, 20.0))
    (hole,) = found(t_s, degc, [(0.0, 7200.0)], air)
    assert 3600 - 180 <= hole.from_s <= 3600
    assert hole.to_s == t_s[-1]


def test_a_unit_that_is_switched_off_cools_by_right():
    """Fast as it may cool, without power nothing came off."""
    t_s = times(7200)
    degc = np.where(t_s < 3600, 55.0, 20.0 + newton(t_s - 3600, 35.0, 0.0, 60.0))
    assert found(t_s, degc, [(0.0, 3600.0)]) == []


def test_a_fan_that_starts_is_no_probe_that_falls():
    """From 35 K to 15 K over the room within a minute, and it stays there."""
    t_s = times(7200)
    degc = np.where(t_s < 3600, 55.0, 20.0 + newton(t_s - 3600, 35.0, 15.0, 30.0))
    assert found(t_s, degc, [(0.0, 7200.0)]) == []


def test_taped_on_again_it_is_believed_again():
    """Off for 10 min, then back and warm: the hole ends once it reads the heat again."""
    t_s = times(7200)
    off = (t_s >= 3600) & (t_s < 4200)
    degc = np.where(off, 20.0 + newton(t_s - 3600, 35.0, 0.0, 20.0), 55.0)
    (hole,) = found(t_s, degc, [(0.0, 7200.0)])
    assert hole.to_s == pytest.approx(4200, abs=EVERY_S)


def test_the_limit_of_a_spot_that_lost_its_probe_is_not_shown(tmp_path):
    """Cool air is no cool unit; the other spots keep their findings."""
    off = {"bench": {"probe_falls_off": {"probe": "heatsink", "at_s": [3600.0, 3700.0]}}}
    fallen = soak(tmp_path, BENCH, {"spots": {}}, off, "2 h")
    assert fallen.verdict("spots/heatsink limit") == "not shown"
    assert fallen.verdict("spots/outside limit") == "met"
    whole = soak(tmp_path, BENCH, {"spots": {}}, {}, "2 h")
    assert whole.verdict("spots/heatsink limit") == "met"


def test_a_probe_that_came_off_while_the_unit_was_off_is_found_when_it_stays_cold():
    """It warmed by 30 K in the first run and by half a kelvin in the next, as long."""
    t_s = times(7200)
    first = newton(t_s, 0.0, 30.0, 480.0)
    degc = 20.0 + np.where(t_s <= 3000, first, np.where(t_s < 3600, 5.0, 0.5))
    (hole,) = found(t_s, degc, [(0.0, 3000.0), (3600.0, 7200.0)])
    assert (hole.from_s, hole.to_s) == (3600.0, 7200.0)


def test_a_short_run_may_stay_cool():
    """In five minutes a heavy spot hardly warms."""
    t_s = times(4000)
    degc = 20.0 + np.where(t_s <= 3000, newton(t_s, 0.0, 30.0, 480.0), 2.0)
    assert found(t_s, degc, [(0.0, 3000.0), (3600.0, 3900.0)]) == []
