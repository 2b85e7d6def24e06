"""Pooling over like units: against a published data set and by hand."""

import math

import numpy as np
import pytest
from scipy.stats import beta, betabinom, gamma, nbinom
from statsmodels.discrete.discrete_model import NegativeBinomial

from soak.judge.explain.pooled import MASS
from soak.judge.explain.pooling import Usual, shrunk_rate, shrunk_share, usual_rate, usual_share

FAILED = [5, 1, 5, 14, 3, 19, 1, 1, 4, 22]
HOURS = [94.3, 15.7, 62.9, 126, 5.24, 31.4, 1.05, 1.05, 2.1, 10.5]


def known(a, b):
    """Return what is usual where only one answer is thinkable."""
    return Usual(np.array([a], float), np.array([b], float), np.zeros(1), 9)


def test_pumps_are_pulled_to_about_their_published_means():
    """Ten pumps of Gaver & O'Muircheartaigh 1987: full Bayes of the BUGS manual (from memory).

    Its weak priors are others than ours: the means agree to some per cent where a pump was
    watched for long, to a fifth where only for 1 or 2 thousand hours.
    """
    published = [0.0598, 0.1015, 0.0893, 0.116, 0.602, 0.609, 0.891, 0.894, 1.588, 1.994]
    means = []
    for at, (count, hours) in enumerate(zip(FAILED, HOURS, strict=True)):
        others = usual_rate(FAILED[:at] + FAILED[at + 1 :], HOURS[:at] + HOURS[at + 1 :])
        means.append(shrunk_rate(count, hours, others).mean)
    assert means == pytest.approx(published, rel=0.2)
    long = [0, 2, 3, 4, 5, 9]
    assert [means[at] for at in long] == pytest.approx([published[at] for at in long], rel=0.06)


def test_the_likeliest_answer_is_a_second_librarys_fit():
    """Gamma-Poisson is negative binomial: statsmodels fits the same to the pumps."""
    model = NegativeBinomial(FAILED, np.ones((10, 1)), exposure=np.array(HOURS))
    fitted = model.fit(start_params=[0.0, 1.0], disp=False, method="bfgs", gtol=1e-8)
    usual = usual_rate(FAILED, HOURS)
    best = int(np.argmax(usual.log_weights))
    assert usual.a[best] == pytest.approx(1 / fitted.params[1], rel=0.1)
    assert usual.a[best] / usual.b[best] == pytest.approx(math.exp(fitted.params[0]), rel=0.1)


def test_answers_are_weighed_by_their_likelihood():
    """Answers of one pull: their weights differ as scipy's nbinom and betabinom say."""
    usual = usual_rate(FAILED, HOURS)
    one_pull = slice(0, 200)
    theirs = sum(
        nbinom.logpmf(count, usual.a, usual.b / (usual.b + hours))
        for count, hours in zip(FAILED, HOURS, strict=True)
    )
    assert usual.log_weights[one_pull] - usual.log_weights[0] == pytest.approx(
        theirs[one_pull] - theirs[0], abs=1e-6
    )
    failed, trials = [0, 1, 0, 0, 5, 0, 2], [20] * 7
    shares = usual_share(failed, trials)
    theirs = sum(betabinom.logpmf(x, 20, shares.a, shares.b) for x in failed)
    assert shares.log_weights[one_pull] - shares.log_weights[0] == pytest.approx(
        theirs[one_pull] - theirs[0], abs=1e-6
    )


def test_gamma_and_count_give_the_textbook_posterior():
    """(a + k)/(b + t): a 2, b 4, 3 in 10 is .357143, 90 % from .140725 to .653823."""
    found = shrunk_rate(3, 10.0, known(2, 4))
    assert (found.mean, found.bound_low, found.bound_high) == pytest.approx(
        (0.357143, 0.140725, 0.653823), abs=5e-7
    )
    assert found.bound_high == pytest.approx(gamma.ppf(0.95, 5, scale=1 / 14))


def test_beta_and_count_give_the_textbook_posterior():
    """(a + x)/(a + b + n): beta(1, 9), 2 of 10 is .15, 90 % from .044465 to .295802."""
    found = shrunk_share(2, 10, known(1, 9))
    assert (found.mean, found.bound_low, found.bound_high) == pytest.approx(
        (0.15, 0.044465, 0.295802), abs=5e-7
    )
    assert found.bound_low == pytest.approx(beta.ppf(0.05, 3, 17))


def test_the_interval_over_all_answers_is_that_of_drawn_ones():
    """Mean and bounds by drawing an answer, then a rate from it: within what draws scatter."""
    usual, draw = usual_rate(FAILED, HOURS), np.random.default_rng(4)
    found = shrunk_rate(2, 4.0, usual)
    logs = usual.log_weights + nbinom.logpmf(2, usual.a, usual.b / (usual.b + 4.0))
    chances = np.exp(logs - logs.max())
    answers = draw.choice(len(chances), size=40_000, p=chances / chances.sum())
    rates = draw.gamma(usual.a[answers] + 2, 1 / (usual.b[answers] + 4.0))
    assert found.mean == pytest.approx(rates.mean(), rel=0.02)
    assert (found.bound_low, found.bound_high) == pytest.approx(
        tuple(np.quantile(rates, (0.05, 0.95))), rel=0.04
    )


def test_the_pull_is_told_and_adds_up():
    """The mean lies between own figure and pool, exactly as far as the weight says."""
    for found in (
        shrunk_rate(3, 10.0, usual_rate(FAILED, HOURS)),
        shrunk_share(2, 10, usual_share([0, 1, 0, 0, 5, 0, 2], [20] * 7)),
    ):
        between = found.own * (1 - found.weight) + found.pooled * found.weight
        assert found.mean == pytest.approx(between)
        assert found.bound_low < found.mean < found.bound_high


def test_the_interval_beside_five_units_holds_what_it_says():
    """Of 200 made units beside five others the 90 % interval holds 0.85 at least (seed fixed)."""
    draw, held, told = np.random.default_rng(7), 0, 0
    for _ in range(200):
        rates = draw.gamma(2.0, 0.15, 6)
        hours = draw.uniform(4, 10, 6)
        counts = draw.poisson(rates * hours)
        usual = usual_rate(counts[1:], hours[1:])
        if usual is not None:
            found = shrunk_rate(int(counts[0]), float(hours[0]), usual, MASS)
            held += found.bound_low <= rates[0] <= found.bound_high
            told += 1
    assert told > 180
    assert held / told >= 0.85


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
    assert found.pooled < 0.06 < 0.15 < found.mean < found.own


def test_a_unit_watched_for_next_to_nothing_breaks_no_figure():
    """Hours from a second to three weeks, counts from none to forty: finite, bounds in order."""
    usual = usual_rate([0, 40, 1, 0, 5, 0], [1 / 3600, 500.0, 1 / 3600, 5.0, 1 / 60, 3.0])
    found = shrunk_rate(0, 1e-6, usual)
    assert 0 <= found.bound_low <= found.mean <= found.bound_high < math.inf
    assert 0 <= found.weight <= 1


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: usual_rate([1, 2], [1.0]),
        lambda: usual_rate([-1] * 6, [1.0] * 6),
        lambda: usual_rate([1] * 6, [math.nan] * 6),
        lambda: usual_share([3] * 6, [2] * 6),
        lambda: shrunk_rate(1, 0.0, known(1, 1)),
        lambda: shrunk_share(3, 2, known(1, 1)),
        lambda: shrunk_share(1, 2, known(1, 1), 95),
    ],
)
def test_impossible_counts_raise(impossible):
    """What cannot be is refused in words."""
    with pytest.raises(ValueError, match=r"impossible|each unit|finite|between 0 and 1"):
        impossible()
