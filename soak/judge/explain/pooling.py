"""What earlier soaks of like units say, shown beside a soak's own count and never graded.

A unit's own count pulls towards what is usual for its model and repair, the more the less it has
been watched itself. How far it was pulled is always told (`Shrunk.weight`).

What is usual is known from a few units only. So no one answer is taken for true: each answer that
mean and spread may have is weighed by how well it explains all counts, the unit's own among them.
A single best answer gave 90 % intervals that held in 0.6 to 0.8 (`benchmarks/like_units.py`).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc, betaln, expit, gammainc, gammaln

from soak.statistics.bounds import checked_confidence

FEWEST = 5
"""From fewer units nothing is learned about how they differ. Our own choice."""

_PULLS, _MEANS = 40, 240
"""Answers looked at: so many pulls, and for each so many means. Our own choice."""
_REACH = 6.0
"""Means lie up to e^6 = 400 times below and above the pooled one (shares: in their odds). Our own
choice."""
_LEAST_SIZE = 0.01
"""Units watched for next to nothing do not set the measure: no less than this of the mean. Our own
choice."""
_SLIGHTEST = 1e-7
"""Answers less likely than so much of the likeliest are left out. Our own choice."""

Figures = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Usual:
    """What may be usual, and how well each answer explains the counts of like units.

    Attributes
    ----------
    a, b : array, shape (answers,)
        Gamma: shape and rate (a events in a time b); beta: a failed and b worked.
    log_weights : array, shape (answers,)
        Logarithm of the chance of each beforehand and of its likelihood, but for a constant.
    units : int
        From how many earlier units.
    """

    a: Figures
    b: Figures
    log_weights: Figures
    units: int

    def with_own(self, log_likelihood: Figures) -> "tuple[Figures, Usual]":
        """Return the chances of the answers with one more unit known, and those worth keeping."""
        logs = self.log_weights + log_likelihood
        kept = logs > logs.max() + math.log(_SLIGHTEST)
        chances = np.exp(logs[kept] - logs.max())
        return chances / chances.sum(), Usual(self.a[kept], self.b[kept], logs[kept], self.units)


@dataclass(frozen=True, slots=True)
class Shrunk:
    """A unit's own figure and what it becomes beside like units.

    Attributes
    ----------
    own : float
        Events divided by time, or failures divided by trials.
    pooled : float
        Mean of what is usual, as far as the others and this unit tell it.
    mean : float
        In between: own * (1 - weight) + pooled * weight.
    bound_low, bound_high : float
        Bounds of the two-sided interval around `mean`; they allow for the doubt about what is
        usual.
    weight : float
        How much the others count, 0 to 1.
    """

    own: float
    pooled: float
    mean: float
    bound_low: float
    bound_high: float
    weight: float


def usual_rate(events: Sequence[int], times: Sequence[float]) -> Usual | None:
    """Learn how event rates of like units are spread; None from too little.

    Parameters
    ----------
    events, times : sequence
        Count and time watched of each unit, shape (n,).

    Raises
    ------
    ValueError
        If the lengths differ or a count or time is impossible.

    References
    ----------
    Gamma-Poisson model: Gaver & O'Muircheartaigh, Technometrics 29 (1987) 1-15. Beforehand every
    logarithm of the mean is as likely; of the pull b / (b + harmonic mean time), 0 to 1, the
    density is 2 (1 - pull): units that do not differ at all are thought the less likely. An even
    density is that of Christiansen & Morris, Journal of the American Statistical Association 92
    (1997) 618-632 (from memory); with it intervals held less often in simulation.
    """
    counts = _row(events)
    watched = _row(times)
    if len(counts) != len(watched) or np.any(counts < 0) or np.any(watched <= 0):
        raise ValueError("each unit has a count from 0 up and a time above 0")
    if len(counts) < FEWEST or counts.sum() == 0:
        return None
    logs, worth, beforehand = _answers(math.log(counts.sum() / watched.sum()), watched)
    a = np.exp(logs) * worth
    b = worth
    weights = _over(_log_rate, a, b, counts=counts, sizes=watched)
    return Usual(a, b, weights + beforehand, len(counts))


def usual_share(failed: Sequence[int], trials: Sequence[int]) -> Usual | None:
    """Learn how failed shares of like units are spread; None from too little.

    Raises
    ------
    ValueError
        If the lengths differ or a count is impossible.

    References
    ----------
    Beta-binomial model: Griffiths, Biometrics 29 (1973) 637-648; what is likely beforehand as in
    `usual_rate`, of the odds' logarithm.
    """
    bad = _row(failed)
    tried = _row(trials)
    if len(bad) != len(tried) or np.any(bad < 0) or np.any(tried < 1) or np.any(bad > tried):
        raise ValueError("each unit has failures from 0 up to its trials, and at least one trial")
    if len(bad) < FEWEST or bad.sum() == 0 or bad.sum() == tried.sum():
        return None
    odds = math.log(bad.sum() / (tried.sum() - bad.sum()))
    logs, worth, beforehand = _answers(odds, tried)
    a = expit(logs) * worth
    b = expit(-logs) * worth
    return Usual(a, b, _over(_log_share, a, b, counts=bad, sizes=tried) + beforehand, len(bad))


def shrunk_rate(events: int, time: float, usual: Usual, confidence: float = 0.9) -> Shrunk:
    """Return a unit's rate between its own count and what is usual.

    Raises
    ------
    ValueError
        If the count or time is impossible.

    References
    ----------
    Posterior of a gamma prior and a Poisson count, mean (a + k) / (b + t), over all answers.
    """
    checked_confidence(confidence)
    if events < 0 or not math.isfinite(time) or time <= 0:
        raise ValueError(f"{events} events in a time of {time} is impossible")
    chances, of = usual.with_own(_log_rate(usual.a, usual.b, events, time))
    shape = of.a + events
    rate = of.b + time

    def below(value: float) -> float:
        return float(chances @ gammainc(shape, rate * value))

    most = float(((shape + 40 * np.sqrt(shape) + 40) / rate).max())
    return _between(
        events / time,
        chances,
        of.a / of.b,
        pulls=of.b / rate,
        after=(shape / rate, below, most),
        confidence=confidence,
    )


def shrunk_share(failed: int, trials: int, usual: Usual, confidence: float = 0.9) -> Shrunk:
    """Return a unit's failed share between its own count and what is usual.

    Raises
    ------
    ValueError
        If the counts are impossible.

    References
    ----------
    Posterior of a beta prior and a binomial count, mean (a + x) / (a + b + n), over all answers.
    """
    checked_confidence(confidence)
    if trials < 1 or not 0 <= failed <= trials:
        raise ValueError(f"{failed} failures in {trials} trials is impossible")
    chances, of = usual.with_own(_log_share(usual.a, usual.b, failed, trials))
    a = of.a + failed
    b = of.b + trials - failed
    worth = of.a + of.b

    def below(value: float) -> float:
        return float(chances @ betainc(a, b, value))

    return _between(
        failed / trials,
        chances,
        of.a / worth,
        pulls=worth / (worth + trials),
        after=(a / (a + b), below, 1.0),
        confidence=confidence,
    )


def _between(
    own: float,
    chances: Figures,
    usual: Figures,
    pulls: Figures,
    after: tuple[Figures, Callable[[float], float], float],
    confidence: float,
) -> Shrunk:
    """Put all answers together: means and pulls by their chances, bounds from their mixture."""
    means, below, most = after
    weight = float(chances @ pulls)
    tail = (1 - confidence) / 2
    low, high = (_quantile(below, most, p) for p in (tail, 1 - tail))
    pooled = float(chances @ (pulls * usual)) / weight
    return Shrunk(
        own, pooled, float(chances @ means), bound_low=low, bound_high=high, weight=weight
    )


def _quantile(below: Callable[[float], float], most: float, p: float) -> float:
    """Return where a distribution function over 0 to `most` reaches p; 0 if it begins above."""
    from scipy.optimize import brentq

    least = 1e-12 * most
    if below(least) >= p:
        return 0.0
    root = brentq(lambda log: below(math.exp(log)) - p, math.log(least), math.log(most))
    return math.exp(root)


def _answers(center: float, sizes: Figures) -> tuple[Figures, Figures, Figures]:
    """Return logarithms of means, worths, log-chances beforehand, each shape (answers,)."""
    harmonic = len(sizes) / float(np.sum(1 / sizes))  # so that one unit watched long rules not all
    size = max(harmonic, _LEAST_SIZE * float(sizes.mean()))
    pulls = (np.arange(_PULLS) + 0.5) / _PULLS
    logs = center + np.linspace(-_REACH, _REACH, _MEANS)
    mean, pull = np.meshgrid(logs, pulls)
    return mean.ravel(), size * (pull / (1 - pull)).ravel(), np.log1p(-pull).ravel()


def _over(
    likelihood: Callable[[Figures, Figures, float, float], Figures],
    a: Figures,
    b: Figures,
    counts: Figures,
    sizes: Figures,
) -> Figures:
    """Return the logarithm of the likelihood of each answer over all units."""
    total = np.zeros_like(a)
    for count, size in zip(counts, sizes, strict=True):
        total += likelihood(a, b, count, size)
    return total


def _log_rate(a: Figures, b: Figures, events: float, time: float) -> Figures:
    """Return the negative binomial log-likelihood of a count, but for what no answer changes."""
    ratio = np.log1p(time / b)
    return gammaln(a + events) - gammaln(a) - a * ratio - events * (np.log(b) + ratio)


def _log_share(a: Figures, b: Figures, failed: float, trials: float) -> Figures:
    """Return the beta-binomial log-likelihood of a count, but for what no answer changes."""
    return betaln(a + failed, b + trials - failed) - betaln(a, b)


def _row(values: Sequence[float]) -> NDArray[np.float64]:
    row = np.asarray(values, dtype=np.float64).reshape(-1)
    if not np.all(np.isfinite(row)):
        raise ValueError("a count or time is not a finite number")
    return row
