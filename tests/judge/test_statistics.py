"""Bounds against published values and a second library."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint

from soak.judge import statistics


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


@pytest.mark.parametrize("trials", [1, 30, 60, 100, 300])
def test_one_sided_bound_of_no_failure_is_the_success_run(trials):
    """With no failure the one-sided bound is 1 - (1 - C)^(1/n), the success-run theorem."""
    _, high = statistics.failed_share(0, trials, 0.95)
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


def test_mtbf_of_a_failure_terminated_test_uses_another_shape():
    """The air-conditioning data `aircondit` (12 intervals, 1297 h): 71.234 to 187.314 h at 90 %."""
    bounds = statistics.mtbf(12, 1297.0, 0.90, failure_terminated=True)
    assert bounds == pytest.approx((71.234, 187.314), abs=5e-4)


@pytest.mark.parametrize(
    ("confidence", "divisor"), [(0.60, 0.91629), (0.80, 1.60944), (0.90, 2.30259), (0.95, 2.99573)]
)
def test_no_failure_divides_the_time_by_the_logarithm(confidence, divisor):
    """Zero failures: lower bound T / -ln(1 - C); natural logarithms of any table."""
    low, high = statistics.mtbf(0, 1.0, confidence)
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
        lambda: statistics.mtbf(0, 5.0, 0.95, failure_terminated=True),
        lambda: statistics.success_run_trials(1.0, 0.95),
        lambda: statistics.length_to_show(-1, 0.95),
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
    low, high = statistics.failed_share(failures, trials, 0.95)
    assert 0 <= low <= failures / trials <= high <= 1
