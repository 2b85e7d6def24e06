"""Bounds at acceptance by a plan: plain tests as a special case, and coverage counted exactly."""

import numpy as np
import pytest
from scipy.stats import beta, chi2

from soak.judge.planning import hours_plan, starts_plan
from soak.statistics.plan_bounds import highest_share, shortest_mean
from soak.statistics.plans import HoursPlan, StartsPlan

STARTS = starts_plan(0.01, 0.10, 0.05, 0.10)
HOURS = hours_plan(500.0, 250.0, 0.1, 0.1)


@pytest.mark.parametrize("failed", [0, 1, 3])
def test_a_plan_that_never_stops_early_has_the_bound_of_clopper_and_pearson(failed):
    """Fifty starts, at most 3 failed: the beta quantile of Clopper & Pearson 1934, by scipy."""
    plain = StartsPlan([*[-1] * 49, 3], [4] * 50)
    expected = beta.ppf(0.95, failed + 1, 50 - failed)
    assert highest_share(plain, failed, 0.95) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("failures", [0, 1, 2])
def test_hours_that_never_stop_early_have_the_bound_of_the_handbook(failures):
    """NIST/SEMATECH e-Handbook 8.4.5.1, time terminated: 2T over chi-square of 2r + 2, by scipy."""
    plain = HoursPlan([100.0] * 3, [-1, -1, 100.0])
    expected = 200.0 / chi2.ppf(0.9, 2 * failures + 2)
    assert shortest_mean(plain, failures, 0.9) == pytest.approx(expected, rel=1e-9)


def test_no_failure_by_the_first_acceptance_is_the_success_run():
    """Nothing was decided before: 1 - 0.05^(1/28), and T / 2.99573 (natural logarithms)."""
    assert highest_share(STARTS, 0, 0.95) == pytest.approx(1 - 0.05 ** (1 / STARTS.shortest))
    assert shortest_mean(HOURS, 0, 0.95) == pytest.approx(HOURS.shortest / 2.99573, rel=1e-6)


def test_a_bound_of_a_fixed_count_would_be_too_low_with_failures():
    """After early looks one failure shows less than one in a plain test of the same length."""
    at = next(n for n, most in enumerate(STARTS.accept_up_to, 1) if most >= 1)
    assert highest_share(STARTS, 1, 0.95) > beta.ppf(0.95, 2, at - 1)


def test_the_bound_on_starts_holds_the_truth_as_often_as_it_says():
    """All ends counted exactly: for no share is the bound too low in more than 5 % of cases."""
    bounds = [highest_share(STARTS, r, 0.95) for r in range(STARTS.accept_up_to[-1] + 1)]
    assert bounds == sorted(bounds)
    for share in np.linspace(0.001, 0.4, 200):
        chances = STARTS.outlook(share).accepted_with
        missed = sum(p for p, high in zip(chances, bounds, strict=True) if high < share)
        assert missed <= 0.05 + 1e-9


def test_the_bound_on_hours_holds_the_truth_as_often_as_it_says():
    """All ends counted exactly: for no mean time is the bound too high in more than 10 %."""
    bounds = [shortest_mean(HOURS, r, 0.9) for r in range(len(HOURS.accept_at))]
    assert bounds == sorted(bounds, reverse=True)
    for mean in np.geomspace(30, 3000, 60):
        chances = HOURS.outlook(mean).accepted_with
        missed = sum(p for p, low in zip(chances, bounds, strict=True) if low > mean)
        assert missed <= 0.1 + 1e-9


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: highest_share(STARTS, -1, 0.95),
        lambda: highest_share(STARTS, 99, 0.95),
        lambda: highest_share(STARTS, 0, 95),
        lambda: shortest_mean(HOURS, 99, 0.9),
    ],
)
def test_an_acceptance_that_cannot_be_raises(impossible):
    """More failures than the plan ever accepts, or 95 for 0.95, are refused in words."""
    with pytest.raises(ValueError, match=r"never with|write 0\.95"):
        impossible()
