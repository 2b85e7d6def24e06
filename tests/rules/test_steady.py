"""Steady state on a first-order unit, against worked values."""

import numpy as np
import pytest

from soak.rules.steady import settling

T_S = np.arange(0.0, 4 * 3600 + 1, 60.0)
FIRST_ORDER = 60.0 - 35.0 * np.exp(-T_S / 600.0)
"""Newton's law of cooling: from 25 to 60 degC with a time constant of 600 s."""


@pytest.mark.parametrize(
    ("at_s", "degc"), [(300, 38.771), (600, 47.124), (1200, 55.263), (1800, 58.257), (2400, 59.359)]
)
def test_worked_curve_is_newtons(at_s, degc):
    """Newton's law, T = Tf - (Tf - T0) exp(-t/tau), worked by hand for 25, 60 and 600 s."""
    assert np.interp(at_s, T_S, FIRST_ORDER) == pytest.approx(degc, abs=5e-4)


def test_three_kelvin_in_thirty_minutes_is_first_met_at_1500_s():
    """IEC 62368-1 B.1.6 (second-hand): on this unit first met on 1500 to 3300 s, at 59.86 degC."""
    found = settling(T_S, FIRST_ORDER, within=3.0, window_s=1800.0)
    assert found.first == (1500.0, 3300.0)
    assert np.interp(found.first[1], T_S, FIRST_ORDER) == pytest.approx(59.86, abs=0.005)


def test_one_kelvin_in_five_minutes_is_first_met_well_short_of_the_end():
    """The same unit by "1 K in 5 min": first met on 1620 to 1920 s at 58.57 degC, 1.4 K short."""
    found = settling(T_S, FIRST_ORDER, within=1.0, window_s=300.0)
    assert found.first == (1620.0, 1920.0)
    assert np.interp(found.first[1], T_S, FIRST_ORDER) == pytest.approx(58.57, abs=0.005)


def test_run_shorter_than_the_window_says_nothing():
    """Twenty minutes cannot show thirty."""
    assert settling(T_S[:21], FIRST_ORDER[:21], within=3.0, window_s=1800.0) is None
