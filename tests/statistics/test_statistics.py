"""Bounds against published values and a second library."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import binom, chi2, poisson
from statsmodels.stats.proportion import proportion_confint

from soak.statistics import bounds as statistics


@pytest.mark.parametrize(
    ("confidence", "reliability", "trials"),
    [
        (0.90, 0.90, 22),
        (0.95, 0.95, 59),
        (0.95, 0.99, 299),
        (0.80, 0.90, 16),
        (0.90, 0.95, 45),
        (0.95, 0.90, 29),
        (0.90, 0.99, 230),
        (0.99, 0.95, 90),
    ],
)
def test_success_run_needs_the_usual_number_of_trials(confidence, reliability, trials):
    """The success-run table, from 1 - C = R^n (nomtbf.com and others give 22, 59, 299)."""
    assert statistics.success_run_trials(reliability, confidence) == trials


@pytest.mark.parametrize(("confidence", "trials"), [(0.90, 22), (0.95, 59), (0.95, 299)])
def test_a_test_of_one_unit_shows_the_root_of_the_luck(confidence, trials):
    """R = (1 - C)^(1/n) for one unit on test: .9006 after 22 at 90 %, .9505 after 59 at 95 %."""
    high = statistics.share_at_most(0, trials, confidence)
    shown = {22: 0.9006, 59: 0.9505, 299: 0.9900}[trials]  # the success-run theorem, by hand
    assert 1 - high == pytest.approx(shown, abs=5e-5)


def test_clopper_pearson_gives_the_handbook_example():
    """NIST/SEMATECH e-Handbook 7.2.4.1: 4 of 20 at 90 % is 0.071354 to 0.401029."""
    assert statistics.clopper_pearson(4, 20, 0.90) == pytest.approx((0.071354, 0.401029), abs=5e-6)


@pytest.mark.parametrize("confidence", [0.6, 0.9, 0.95, 0.99])
@pytest.mark.parametrize(
    ("failures", "trials"), [(0, 10), (1, 10), (5, 10), (10, 10), (3, 30), (0, 100), (17, 4000)]
)
def test_clopper_pearson_agrees_with_a_second_library(failures, trials, confidence):
    """The library statsmodels, proportion_confint with method beta, gives the same interval."""
    expected = proportion_confint(failures, trials, alpha=1 - confidence, method="beta")
    assert statistics.clopper_pearson(failures, trials, confidence) == pytest.approx(
        expected, abs=1e-12
    )


@pytest.mark.parametrize(
    ("failures", "trials", "low", "high"),
    [
        (0, 10, 0.0, 0.308497),
        (1, 10, 0.002529, 0.445016),
        (5, 10, 0.187086, 0.812914),
        (0, 20, 0.0, 0.168433),
        (3, 30, 0.021117, 0.265288),
        (2, 50, 0.004881, 0.137138),
        (0, 100, 0.0, 0.036217),
    ],
)
def test_clopper_pearson_gives_the_tabled_intervals(failures, trials, low, high):
    """Tabled 95 % two-sided limits of binomial tables, recomputed with the beta quantile."""
    found = statistics.clopper_pearson(failures, trials, 0.95)
    assert found == pytest.approx((low, high), abs=5e-7)


@pytest.mark.parametrize(
    ("failures", "trials", "high"),
    [
        (0, 10, 0.258866),
        (0, 20, 0.139108),
        (3, 30, 0.238598),
        (2, 50, 0.120614),
        (0, 100, 0.029513),
    ],
)
def test_one_sided_bounds_are_the_tabled_ones(failures, trials, high):
    """Tabled 95 % one-sided upper limits, recomputed with the beta quantile."""
    found = statistics.share_at_most(failures, trials, 0.95)
    assert found == pytest.approx(high, abs=5e-7)


@pytest.mark.parametrize(("failures", "trials"), [(0, 59), (1, 93), (2, 124), (3, 153)])
def test_trials_needed_are_the_usual_sample_sizes(failures, trials):
    """Sample sizes for 95/95 with 0 to 3 failures, common in acceptance tables: 59 93 124 153."""
    assert statistics.trials_needed(0.05, failures, 0.95) == trials


def test_rule_of_three_is_near_the_exact_bound():
    """Three over n against 1 - 0.05^(1/n): .1000 for .09503 at 30, .0100 for .009936 at 300."""
    exact = [statistics.share_at_most(0, n, 0.95) for n in (30, 100, 300)]
    assert exact == pytest.approx([0.09503, 0.029513, 0.009936], abs=5e-6)
    assert [3 / n for n in (30, 100, 300)] == pytest.approx(exact, rel=0.06)


def test_200_hours_with_four_failures_take_1599_hours():
    """Half the chi-square quantile 15.987 of 10 degrees of freedom: 200 h x 7.9936 at 90 %."""
    assert 200 * statistics.length_to_show(4, 0.90) == pytest.approx(1598.7, abs=0.05)


@pytest.mark.parametrize("trials", [1, 30, 60, 100, 300])
def test_one_sided_bound_of_no_failure_is_the_success_run(trials):
    """With no failure the one-sided bound is 1 - (1 - C)^(1/n), the success-run theorem."""
    high = statistics.share_at_most(0, trials, 0.95)
    assert high == pytest.approx(1 - 0.05 ** (1 / trials), abs=1e-12)


def test_mtbf_gives_the_handbook_example():
    """NIST/SEMATECH e-Handbook 8.4.5.1: 2 failures in 800 h at 90 % is 127 to 2251 h."""
    assert statistics.mtbf(2, 800.0, 0.90) == pytest.approx((127.07, 2251.2), rel=1e-4)


@pytest.mark.parametrize(
    ("failures", "lower", "upper"),
    [
        (1, 0.21080, 19.4957),
        (2, 0.31767, 5.6281),
        (3, 0.38691, 3.6689),
        (4, 0.43699, 2.9276),
        (5, 0.47560, 2.5379),
    ],
)
def test_mtbf_bounds_are_the_tabled_factors_of_the_estimate(failures, lower, upper):
    """Factors on the estimate at 90 %, time terminated, from chi-square tables (8.4.5.1)."""
    low, high = statistics.mtbf(failures, float(failures), 0.90)
    assert (low, high) == pytest.approx((lower, upper), rel=5e-5)


@pytest.mark.parametrize(
    ("confidence", "divisor"), [(0.60, 0.91629), (0.80, 1.60944), (0.90, 2.30259), (0.95, 2.99573)]
)
def test_no_failure_divides_the_time_by_the_logarithm(confidence, divisor):
    """Zero failures: lower bound T / -ln(1 - C); natural logarithms of any table."""
    low, high = statistics.mtbf(0, 1.0, confidence, two_sided=False)
    assert low == pytest.approx(1 / divisor, rel=1e-5)
    assert high is None


@pytest.mark.parametrize(
    ("confidence", "lengths"),
    [
        (0.90, [2.3026, 3.8897, 5.3223, 6.6808, 7.9936]),
        (0.95, [2.9957, 4.7439, 6.2958, 7.7537, 9.1535]),
        (0.60, [0.9163, 2.0223, 3.1054, 4.1753, 5.2366]),
    ],
)
def test_length_to_show_is_half_of_tabled_chi_square(confidence, lengths):
    """Test length in MTBFs, half the chi-square quantile of 2r + 2 (e-Handbook 8.3.1.2)."""
    found = [statistics.length_to_show(r, confidence) for r in range(5)]
    assert found == pytest.approx(lengths, abs=5e-5)


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: statistics.clopper_pearson(1, 0, 0.95),
        lambda: statistics.clopper_pearson(-1, 5, 0.95),
        lambda: statistics.clopper_pearson(6, 5, 0.95),
        lambda: statistics.clopper_pearson(1, 5, 95),
        lambda: statistics.mtbf(-1, 5.0, 0.95),
        lambda: statistics.mtbf(1, 0.0, 0.95),
        lambda: statistics.mtbf(1, math.nan, 0.95),
        lambda: statistics.success_run_trials(1.0, 0.95),
        lambda: statistics.length_to_show(-1, 0.95),
        lambda: statistics.trials_needed(0.05, -1, 0.95),
        lambda: statistics.trials_needed(5, 1, 0.95),
        lambda: statistics.trials_needed(0.05, 1, 95),
    ],
)
def test_impossible_counts_raise(impossible):
    """Counts that cannot be, and a confidence written as 95, are refused in words."""
    with pytest.raises(ValueError, match=r"impossible|between 0 and 1|at least one"):
        impossible()


@given(st.integers(1, 5000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_bounds_hold_the_estimate_and_are_numbers(counts):
    """Whatever the counts, 0 <= low <= share <= high <= 1 and nothing is NaN."""
    failures, trials = counts
    low, high = statistics.clopper_pearson(failures, trials, 0.95)
    assert 0 <= low <= failures / trials <= high <= 1


TRUE_SHARES = np.linspace(0.0005, 0.9995, 1999)


@pytest.mark.parametrize("trials", [5, 20, 59, 120])
@pytest.mark.parametrize("confidence", [0.90, 0.95])
def test_the_bound_of_a_share_holds_as_often_as_it_says(trials, confidence):
    """Over all outcomes, by the binomial distribution itself, at 1999 true shares."""
    most = [statistics.share_at_most(bad, trials, confidence) for bad in range(trials + 1)]
    chances = binom.pmf(np.arange(trials + 1)[:, None], trials, TRUE_SHARES)
    held = chances * (np.array(most)[:, None] >= TRUE_SHARES)
    assert held.sum(axis=0).min() >= confidence - 1e-12


@pytest.mark.parametrize("trials", [5, 20, 59, 120])
def test_the_pair_of_bounds_of_a_share_holds_as_often_as_it_says(trials):
    """Two-sided from the start, over all outcomes: 95 % at none and at more failures alike."""
    pairs = [statistics.clopper_pearson(bad, trials, 0.95) for bad in range(trials + 1)]
    low, high = np.array(pairs).T[:, :, None]
    chances = binom.pmf(np.arange(trials + 1)[:, None], trials, TRUE_SHARES)
    held = chances * ((low <= TRUE_SHARES) & (high >= TRUE_SHARES))
    assert held.sum(axis=0).min() >= 0.95 - 1e-12


@pytest.mark.parametrize("confidence", [0.90, 0.95])
def test_the_bounds_of_a_rate_hold_as_often_as_they_say(confidence):
    """Over all counts up to 120, by the Poisson distribution itself, at means of 0.01 to 60."""
    means, counts = np.geomspace(0.01, 60, 1500), np.arange(121)
    chances = poisson.pmf(counts[:, None], means)
    most = np.array([statistics.rate_at_most(n, 1.0, confidence) for n in counts])
    least = np.array([statistics.rate_at_least(n, 1.0, confidence) for n in counts])
    assert (chances * (most[:, None] >= means)).sum(axis=0).min() >= confidence - 1e-9
    assert (chances * (least[:, None] <= means)).sum(axis=0).min() >= confidence - 1e-9


@pytest.mark.parametrize("failures", [0, 1, 2, 7])
def test_the_bounds_of_a_rate_are_quantiles_of_chi_square(failures):
    """NIST/SEMATECH e-Handbook 8.4.5.1, with the whole doubt on one side; quantiles by scipy."""
    most = statistics.rate_at_most(failures, 8.0, 0.95)
    least = statistics.rate_at_least(failures, 8.0, 0.95)
    assert most == pytest.approx(chi2.ppf(0.95, 2 * failures + 2) / 16)
    assert least == pytest.approx(chi2.ppf(0.05, 2 * failures) / 16 if failures else 0.0)


def test_the_count_never_turns_a_bound_from_one_side_to_two():
    """The chance of so few lies at 5 % at the upper bound, with one failure as with none."""
    assert binom.cdf(0, 20, statistics.share_at_most(0, 20, 0.95)) == pytest.approx(0.05)
    assert binom.cdf(1, 20, statistics.share_at_most(1, 20, 0.95)) == pytest.approx(0.05)
    assert poisson.cdf(1, statistics.rate_at_most(1, 1.0, 0.95)) == pytest.approx(0.05)
    assert statistics.mtbf(0, 1.0, 0.95)[0] == pytest.approx(-1 / math.log(0.025))
