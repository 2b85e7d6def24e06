"""Pooling over like units: against a published data set and by hand."""

import math

import numpy as np
import pytest
from scipy.stats import beta, betabinom, gamma
from statsmodels.discrete.discrete_model import NegativeBinomial

from soak.judge.explain.pooling import Prior, shrunk_rate, shrunk_share, usual_rate, usual_share

FAILED = [5, 1, 5, 14, 3, 19, 1, 1, 4, 22]
HOURS = [94.3, 15.7, 62.9, 126, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5]


def test_pumps_are_pulled_to_their_tabled_means():
    """Ten pumps of Gaver & O'Muircheartaigh 1987; fit recomputed with another optimiser."""
    usual = usual_rate(FAILED, HOURS)
    assert (usual.a, usual.b) == pytest.approx((0.822965, 1.261653), rel=1e-4)
    means = [shrunk_rate(k, t, usual).mean for k, t in zip(FAILED, HOURS, strict=True)]
    expected = [0.0609, 0.1075, 0.0908, 0.1165, 0.5880, 0.6069, 0.7886, 0.7886, 1.4347, 1.9405]
    assert means == pytest.approx(expected, abs=5e-5)


def test_the_fit_of_rates_agrees_with_a_second_library():
    """Gamma-Poisson is negative binomial: statsmodels fits the same shape and mean to the pumps."""
    model = NegativeBinomial(FAILED, np.ones((10, 1)), exposure=np.array(HOURS))
    fitted = model.fit(start_params=[0.0, 1.0], disp=False, method="bfgs", gtol=1e-8)
    mean, dispersion = math.exp(fitted.params[0]), fitted.params[1]
    usual = usual_rate(FAILED, HOURS)
    assert usual.a == pytest.approx(1 / dispersion, rel=1e-3)
    assert usual.a / usual.b == pytest.approx(mean, rel=1e-3)


def test_the_fit_of_shares_is_the_likeliest():
    """By scipy's beta-binomial, no a or b a hundredth off is likelier than the ones found."""
    failed, trials = [0, 1, 0, 0, 5, 0, 2], [20] * 7
    usual = usual_share(failed, trials)

    def likelihood(a, b):
        return betabinom.logpmf(failed, trials, a, b).sum()

    best = likelihood(usual.a, usual.b)
    for wider in (0.99, 1.01):
        assert likelihood(usual.a * wider, usual.b) < best
        assert likelihood(usual.a, usual.b * wider) < best
        assert likelihood(usual.a * wider, usual.b * wider) < best


def test_gamma_and_count_give_the_textbook_posterior():
    """(a + k)/(b + t): a 2, b 4, 3 in 10 is .357143, 90 % from .140725 to .653823."""
    found = shrunk_rate(3, 10.0, Prior(2, 4, 9))
    assert (found.mean, found.bound_low, found.bound_high) == pytest.approx(
        (0.357143, 0.140725, 0.653823), abs=5e-7
    )
    assert found.bound_high == pytest.approx(gamma.ppf(0.95, 5, scale=1 / 14))


def test_beta_and_count_give_the_textbook_posterior():
    """(a + x)/(a + b + n): beta(1, 9), 2 of 10 is .15, 90 % from .044465 to .295802."""
    found = shrunk_share(2, 10, Prior(1, 9, 9))
    assert (found.mean, found.bound_low, found.bound_high) == pytest.approx(
        (0.15, 0.044465, 0.295802), abs=5e-7
    )
    assert found.bound_low == pytest.approx(beta.ppf(0.05, 3, 17))


def test_the_pull_is_told_and_adds_up():
    """The mean lies between own figure and pool, exactly as far as the weight says."""
    for found in (
        shrunk_rate(3, 10.0, Prior(2, 4, 9)),
        shrunk_share(2, 10, Prior(1, 9, 9)),
    ):
        between = found.own * (1 - found.weight) + found.pooled * found.weight
        assert found.mean == pytest.approx(between)


def test_units_that_do_not_differ_are_worth_no_more_than_they_were_watched():
    """Eight units of one failure in 10 h each: the pool counts as 80 h and not as endless."""
    usual = usual_rate([1] * 8, [10.0] * 8)
    assert usual.b == pytest.approx(80.0)
    shares = usual_share([1] * 7, [20] * 7)
    assert shares.a + shares.b <= 7 * 20 + 8


@pytest.mark.parametrize(("events", "times"), [([1, 2, 3], [1.0, 1.0, 1.0]), ([0] * 9, [8.0] * 9)])
def test_too_little_gives_no_usual_rate(events, times):
    """From three units, or from nine without an event, nothing is learned."""
    assert usual_rate(events, times) is None


def test_too_little_gives_no_usual_share():
    """From units that never fail, or always, no spread is learned."""
    assert usual_share([0] * 9, [60] * 9) is None
    assert usual_share([60] * 9, [60] * 9) is None


def test_one_bad_unit_among_good_ones_stays_visible():
    """A unit that failed 5 of 20 among good ones is pulled, and stays far above what is usual."""
    usual = usual_share([0, 0, 1, 0, 0, 0, 1, 0, 5], [20] * 9)
    found = shrunk_share(5, 20, usual)
    assert found.pooled < 0.05 < 0.15 < found.mean < found.own


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: usual_rate([1, 2], [1.0]),
        lambda: usual_rate([-1] * 6, [1.0] * 6),
        lambda: usual_rate([1] * 6, [math.nan] * 6),
        lambda: usual_share([3] * 6, [2] * 6),
        lambda: shrunk_rate(1, 0.0, Prior(1, 1, 5)),
        lambda: shrunk_share(3, 2, Prior(1, 1, 5)),
        lambda: shrunk_share(1, 2, Prior(1, 1, 5), 95),
    ],
)
def test_impossible_counts_raise(impossible):
    """What cannot be is refused in words."""
    with pytest.raises(ValueError, match=r"impossible|each unit|finite|between 0 and 1"):
        impossible()
