"""Trend tests against published examples, a second library and counting by hand."""

import itertools
import math

import numpy as np
import pytest
import statsmodels.api as sm
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import kendalltau

from soak.statistics.trend import few_runs_chance, halves, mann_kendall, theil_sen

EPA = [10, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15]


def test_mann_kendall_gives_the_epa_example():
    """EPA QA/G-9S, p. 109: ties of 4 and 2, S = 22, variance 155.33, Z = 1.685."""
    found = mann_kendall(EPA)
    assert found.s == 22
    assert found.variance == pytest.approx(155.33, abs=5e-3)
    assert found.z == pytest.approx(1.685, abs=5e-4)
    assert found.chance == pytest.approx(0.0920, abs=5e-5)
    assert theil_sen(range(11), EPA).slope == pytest.approx(1.0)


def test_small_rows_are_tested_exactly():
    """Six values by the exact table (Kendall 1975): S = 13 has a one-sided chance of 6/720."""
    found = mann_kendall([5, 7, 6, 9, 10, 12])
    assert (found.s, found.z) == (13, None)
    assert found.variance == pytest.approx(28.333, abs=5e-4)
    assert (found.s - 1) / found.variance**0.5 == pytest.approx(2.25441, abs=5e-6)
    assert found.s / 15 == pytest.approx(0.8667, abs=5e-5)  # Kendall's tau of its 15 pairs
    assert found.chance == pytest.approx(12 / 720)


def test_slope_of_a_small_row_has_the_tabled_bounds():
    """Median of the 15 slopes 4/3, at 95 % from 0.5 to 2.0 (worked by hand after Sen 1968)."""
    found = theil_sen(range(1, 7), [5, 7, 6, 9, 10, 12])
    assert found == pytest.approx((4 / 3, 8 - 4 / 3 * 3.5, 0.5, 2.0))


def test_times_that_repeat_are_left_out_of_the_pairs():
    """Two readings of one time make no slope: of -7, -3, 1, 1 and 1 the median is 1."""
    found = theil_sen([0, 0, 1, 2], [1, 9, 2, 3])
    assert (found.slope, found.intercept) == (1.0, 2.0)


def test_nile_falls_as_published():
    """Flow of the Nile 1871-1970: slope -2.6 (-3.628 to -1.429) a year, S = -1387, Z = -4.1281."""
    flow = sm.datasets.nile.load_pandas().data["volume"].to_numpy()
    found = mann_kendall(flow)
    assert found.s == -1387
    assert found.variance == pytest.approx(112728.3, abs=0.05)
    assert found.z == pytest.approx(-4.1281, abs=5e-5)
    slope, _, low, high = theil_sen(range(100), flow)
    assert (slope, low, high) == pytest.approx((-2.6, -3.628, -1.429), abs=1e-3)


@pytest.mark.parametrize("number", range(3, 11))
def test_exact_chance_agrees_with_a_second_library(number):
    """Without ties scipy's exact test of Kendall's tau gives the same chance."""
    row = np.random.default_rng(number).permutation(number)
    expected = kendalltau(range(number), row, method="exact").pvalue
    assert mann_kendall(row).chance == pytest.approx(expected, rel=1e-12)


@settings(max_examples=25)
@given(st.lists(st.integers(0, 3), min_size=3, max_size=6))
def test_exact_chance_with_ties_counts_all_orders(row):
    """With ties the chance is the share of all orders with an S so far from 0."""

    def s_of(order):
        return sum(np.sign(b - a) for a, b in itertools.combinations(order, 2))

    own = abs(s_of(row))
    orders = [abs(s_of(order)) for order in itertools.permutations(row)]
    assert mann_kendall(row).chance == pytest.approx(np.mean([s >= own for s in orders]))


def test_a_row_that_never_changes_has_no_trend():
    """Equal values: no trend, slope 0, and no division by zero."""
    assert mann_kendall([20.0] * 40).chance == 1.0
    assert theil_sen(range(40), [20.0] * 40) == (0.0, 20.0, 0.0, 0.0)


def test_long_rows_keep_their_slope():
    """Of 5000 values some are enough: the slope of a straight line with noise stays what it is."""
    t = np.arange(5000.0)
    row = 20 + 0.001 * t + np.random.default_rng(1).normal(0, 0.1, 5000)
    assert theil_sen(t, row).slope == pytest.approx(0.001, rel=0.01)


@pytest.mark.parametrize("row", [[1.0, 2.0], [1.0, 2.0, float("nan")]])
def test_too_few_or_missing_values_are_refused(row):
    """Two values, and a value that is none, are refused in words."""
    with pytest.raises(ValueError, match=r"at least 3|not a finite"):
        mann_kendall(row)


@settings(max_examples=25)
@given(st.integers(1, 4), st.integers(1, 5), st.randoms(use_true_random=False))
def test_few_runs_are_counted_over_all_orders(bad, good, random):
    """The chance of so few runs is their share among all orders, counted one by one."""

    def runs(row):
        return 1 + sum(a != b for a, b in itertools.pairwise(row))

    row = [True] * bad + [False] * good
    random.shuffle(row)
    orders = [
        [at in chosen for at in range(bad + good)]
        for chosen in itertools.combinations(range(bad + good), bad)
    ]
    expected = np.mean([runs(order) <= runs(row) for order in orders])
    assert few_runs_chance(row) == pytest.approx(expected)


def test_a_bunch_of_failures_is_hardly_luck():
    """Five failures in a row of 40: 40 of 658 008 orders have so few runs (counted by hand)."""
    row = [False] * 20 + [True] * 5 + [False] * 15
    assert few_runs_chance(row) == pytest.approx(40 / 658_008)


def test_halves_are_compared_by_counting_all_splits():
    """Eight failures early and one late of 60: counted over all ways to split nine failures."""
    row = [at % 4 == 0 and at < 32 for at in range(60)]
    row[50] = True
    found = halves(row)
    assert (found.early_failed, found.late_failed) == (8, 1)
    ways = {early: math.comb(30, early) * math.comb(30, 9 - early) for early in range(10)}
    as_rare = sum(number for number in ways.values() if number <= ways[8])
    assert found.chance == pytest.approx(as_rare / math.comb(60, 9), rel=1e-12)


def test_tea_tasting_gives_fishers_own_figure():
    """Fisher 1935: all 4 of 8 cups right; both tails hold 2 of 70 ways."""
    assert halves([True] * 4 + [False] * 4).chance == pytest.approx(2 / 70)


def test_no_failure_splits_evenly_for_certain():
    """Nothing failed, or one start in all: nothing to compare, chance 1, no run to be few."""
    assert halves([False] * 9).chance == 1.0
    assert halves([True]).chance == 1.0
    assert few_runs_chance([False] * 9) == 1.0
