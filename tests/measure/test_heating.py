"""Fits of heating and cooling against worked values and one published measurement."""

from pathlib import Path

import numpy as np
import pytest

from soak.measure.heating import (
    Fit,
    TooEarly,
    at_rated_ambient,
    fit_curve,
    fit_one,
    fit_two,
    predict_end,
)

T_S = np.arange(0.0, 3601.0, 10.0)
NEWTON = 60.0 - 35.0 * np.exp(-T_S / 600.0)
"""Newton's law of cooling: from 25 to 60 degC with a time constant of 600 s."""

WATER = np.array(
    (Path(__file__).parents[1] / "data" / "cooling_water.txt").read_text().split(), dtype=float
)
"""degC, one a minute: hot water cooling, `CoolingWater` of the R package mosaicData (222 rows)."""
MINUTES = np.arange(222.0)


def noisy(t_s, seed, noise_k=0.1):
    """Return Newton's curve as a probe with some noise would read it."""
    clean = 60.0 - 35.0 * np.exp(-t_s / 600.0)
    return clean + np.random.default_rng(seed).normal(0.0, noise_k, len(t_s))


def test_newtons_curve_is_found_again():
    """Worked values of Newton's law: 25 to 60 degC with 600 s leave no residual."""
    fit = fit_one(T_S, NEWTON)
    assert fit.end == pytest.approx(60.0, abs=1e-3)
    assert fit.terms[0].tau_s == pytest.approx(600.0, abs=0.1)
    assert fit.terms[0].rise == pytest.approx(-35.0, abs=1e-2)
    assert fit.worst < 1e-3
    assert fit.at(np.array([300.0, 1200.0])) == pytest.approx([38.771, 55.263], abs=1e-3)


def test_water_does_not_cool_in_one_exponential():
    """CoolingWater by scipy's curve_fit: end 27.00, 47.70 min, rms 1.48 K, worst 9.1 K."""
    fit = fit_one(MINUTES, WATER)
    assert fit.end == pytest.approx(27.00, abs=0.01)
    assert fit.terms[0].tau_s == pytest.approx(47.70, abs=0.02)
    assert fit.rms == pytest.approx(1.48, abs=0.005)
    assert fit.worst == pytest.approx(9.1, abs=0.05)


def test_water_cools_in_two():
    """CoolingWater by scipy's curve_fit: end 23.59, 12.2 and 74.0 min, rms 0.17 K."""
    fit = fit_two(MINUTES, WATER)
    assert fit.end == pytest.approx(23.59, abs=0.01)
    assert [term.tau_s for term in fit.terms] == pytest.approx([12.2, 74.0], abs=0.06)
    assert fit.rms == pytest.approx(0.17, abs=0.005)


def test_the_curve_takes_two_exponentials_where_one_will_not_do():
    """Water needs two (above); Newton's law with a probe's noise is one by construction."""
    assert len(fit_curve(MINUTES, WATER).terms) == 2
    assert len(fit_curve(T_S, noisy(T_S, 1)).terms) == 1


def test_the_bounds_hold_the_end_at_least_as_often_as_they_claim():
    """Of 100 noisy runs of three time constants at least 95 should hold 60 degC; 88 by bad luck.

    Binomial, 100 trials at 0.95: fewer than 88 has a chance of 0.2 %.
    """
    t_s = np.arange(0.0, 1801.0, 10.0)
    fits = [fit_one(t_s, noisy(t_s, seed)) for seed in range(100)]
    assert sum(fit.bound_low <= 60.0 <= fit.bound_high for fit in fits) >= 88
    assert np.median([fit.bound_high - fit.bound_low for fit in fits]) < 1.0


def test_a_slower_body_that_hides_behind_a_fast_one_does_not_fool_the_bounds():
    """Two bodies of 18 and 40 min seen for 45 min look like one; the end of 44 is still within."""
    t_s = np.arange(0.0, 2701.0, 10.0)
    clean = 44.0 - 30.0 * np.exp(-t_s / 1080.0) - 14.0 * np.exp(-t_s / 2400.0)
    random = np.random.default_rng(7)
    found = [
        predict_end(t_s, clean + random.normal(0.0, 0.1, len(t_s)), within=2.0) for _ in range(20)
    ]
    told = [one for one in found if isinstance(one, Fit)]
    assert told
    assert all(one.bound_low <= 44.0 <= one.bound_high for one in told)


def test_half_a_time_constant_tells_no_end_and_says_how_long_to_wait():
    """Of 600 s only 300 s were seen: by our rule of 1.5 time constants about 600 s are missing."""
    t_s = np.arange(0.0, 301.0, 5.0)
    found = predict_end(t_s, noisy(t_s, 2, noise_k=0.02), within=1.0)
    assert isinstance(found, TooEarly)
    assert "more are needed" in found.why
    assert found.wait_s == pytest.approx(600.0, abs=150.0)


def test_after_three_time_constants_the_end_is_told_within_half_a_kelvin():
    """At 1800 s the curve stands at 58.257 degC (Newton's law) and the end of 60 is foretold."""
    t_s = np.arange(0.0, 1801.0, 10.0)
    found = predict_end(t_s, noisy(t_s, 3), within=0.5)
    assert isinstance(found, Fit)
    assert found.end == pytest.approx(60.0, abs=0.5)


def test_a_straight_line_has_no_end_to_foretell():
    """What does not bend, 36 K an hour for an hour, approaches nothing (plain geometry)."""
    assert isinstance(predict_end(T_S, 20.0 + 0.01 * T_S, within=1.0), TooEarly)


def test_what_stands_still_ends_where_it_is():
    """A probe that reads 25 degC all the time ends at 25 degC (plain sense)."""
    assert predict_end(T_S, np.full_like(T_S, 25.0), within=1.0).end == pytest.approx(25.0)


def test_a_rise_is_moved_to_the_rated_ambient():
    """IEC 60950-1, 1.4.12: 55 degC in a room of 22 degC is 68 degC at a rated 35 degC."""
    assert at_rated_ambient(55.0, 22.0, 35.0) == pytest.approx(68.0)
