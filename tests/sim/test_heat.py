"""Heating of a spot against Newton's closed form."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from soak.sim.heat import Heating, Term

# T = Tf - (Tf - T0) exp(-t / tau), T0 = 25, Tf = 60, tau = 600 s, by a pocket calculation to six
# digits; the law is Newton's law of cooling.
NEWTON_DEGC = {300: 38.771, 600: 47.124, 1200: 55.263, 1800: 58.257, 2400: 59.359}


@pytest.mark.parametrize(("t_s", "expected_degc"), NEWTON_DEGC.items())
def test_heating_follows_newtons_law(t_s: int, expected_degc: float) -> None:
    """A spot of one term heats as Newton's closed form says."""
    heating = Heating([Term(35.0, 600.0)])
    heating.power(0.0, 1.0)
    assert 25.0 + heating.rise_k(float(t_s)) == pytest.approx(expected_degc, abs=5e-4)


def test_cooling_halves_in_the_half_life() -> None:
    """A spot without power loses half its rise in tau ln 2."""
    heating = Heating([Term(40.0, 500.0)])
    heating.power(0.0, 1.0)
    heating.power(1e6, 0.0)
    assert heating.rise_k(1e6 + 500.0 * np.log(2.0)) == pytest.approx(20.0, abs=1e-9)


def test_a_planned_change_is_dropped_when_power_goes_before_it() -> None:
    """A fan that would have died later does not heat a unit that was switched off before."""
    planned, plain = Heating([Term(30.0, 400.0)]), Heating([Term(30.0, 400.0)])
    planned.power(0.0, 1.0)
    planned.power(5000.0, 2.4)
    for heating in (planned, plain):
        heating.power(0.0 if heating is plain else 4000.0, 1.0 if heating is plain else 0.0)
    plain.power(4000.0, 0.0)
    assert planned.rise_k(9000.0) == plain.rise_k(9000.0)


@given(
    st.lists(st.tuples(st.floats(1.0, 5000.0), st.booleans()), max_size=12),
    st.floats(10.0, 5000.0),
)
def test_heat_agrees_with_small_steps(steps: list[tuple[float, bool]], tau_s: float) -> None:
    """Whatever the power does, the exact answer is that of an integration in small steps."""
    heating, t_s, rise_k = Heating([Term(30.0, tau_s)]), 0.0, 0.0
    for lasts_s, on in steps:
        heating.power(t_s, float(on))
        h_s = lasts_s / 400
        for _ in range(400):  # midpoint rule
            middle_k = rise_k + 0.5 * h_s * (30.0 * on - rise_k) / tau_s
            rise_k += h_s * (30.0 * on - middle_k) / tau_s
        t_s += lasts_s
    assert heating.rise_k(t_s) == pytest.approx(rise_k, abs=0.05)


@given(st.lists(st.floats(0.0, 20_000.0), min_size=1, max_size=20))
def test_many_times_at_once_give_what_single_times_give(times_s: list[float]) -> None:
    """Asking for an array of times gives the same rises as asking one by one."""
    heating = Heating([Term(30.0, 480.0), Term(6.0, 2400.0)])
    for number in range(10):
        heating.power(1500.0 * number, float(number % 2 == 0))
    expected = [heating.rise_k(t_s) for t_s in times_s]
    assert heating.rises_k(np.array(times_s)) == pytest.approx(expected, abs=1e-9)
