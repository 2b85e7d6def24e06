"""What earlier soaks of like units say, shown beside a soak's own count and never graded.

A unit's own count pulls towards what is usual for its model and repair, the more the less it has
been watched itself. How far it was pulled is always told (`Shrunk.weight`).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betaincinv, betaln, gammaincinv, gammaln

from soak.statistics.bounds import checked_confidence

FEWEST = 5
"""From fewer units nothing is learned about how they differ. Our own choice."""

NARROWEST = 1e-6
"""A prior worth so little of what one unit was watched counts for nothing."""


@dataclass(frozen=True, slots=True)
class Prior:
    """What is usual, as two numbers.

    Attributes
    ----------
    a, b : float
        Gamma: shape and rate (a events in a time b); beta: a failed and b worked.
    units : int
        How many earlier ones it was learned from.
    """

    a: float
    b: float
    units: int


@dataclass(frozen=True, slots=True)
class Shrunk:
    """A unit's own figure and what it becomes beside like units.

    Attributes
    ----------
    own : float
        Events divided by time, or failures divided by trials.
    pooled : float
        Mean of what is usual.
    mean : float
        In between: own * (1 - weight) + pooled * weight.
    bound_low, bound_high : float
        Bounds of the two-sided interval around `mean`.
    weight : float
        How much the others count, 0 to 1.
    """

    own: float
    pooled: float
    mean: float
    bound_low: float
    bound_high: float
    weight: float


def usual_rate(events: Sequence[int], times: Sequence[float]) -> Prior | None:
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
    Gamma-Poisson model fitted by maximum marginal likelihood (empirical Bayes): Gaver &
    O'Muircheartaigh, Technometrics 29 (1987) 1-15.
    """
    counts, watched = _row(events), _row(times)
    if len(counts) != len(watched) or np.any(counts < 0) or np.any(watched <= 0):
        raise ValueError("each unit has a count from 0 up and a time above 0")
    if len(counts) < FEWEST or counts.sum() == 0:
        return None

    def misfit(a: float, b: float) -> float:
        each = (
            gammaln(a + counts) - gammaln(a) + a * math.log(b) - (a + counts) * np.log(b + watched)
        )
        return -float(each.sum())

    pooled = float(counts.sum() / watched.sum())
    a, b = _fitted(misfit, pooled, float(watched.mean()), float(watched.sum()))
    return Prior(a, b, len(counts))


def usual_share(failed: Sequence[int], trials: Sequence[int]) -> Prior | None:
    """Learn how failed shares of like units are spread; None from too little.

    Raises
    ------
    ValueError
        If the lengths differ or a count is impossible.

    References
    ----------
    Beta-binomial model fitted by maximum marginal likelihood: Griffiths, Biometrics 29 (1973)
    637-648.
    """
    bad, tried = _row(failed), _row(trials)
    if len(bad) != len(tried) or np.any(bad < 0) or np.any(tried < 1) or np.any(bad > tried):
        raise ValueError("each unit has failures from 0 up to its trials, and at least one trial")
    if len(bad) < FEWEST or bad.sum() == 0 or bad.sum() == tried.sum():
        return None

    def misfit(a: float, b: float) -> float:
        return -float((betaln(a + bad, b + tried - bad) - betaln(a, b)).sum())

    share = float(bad.sum() / tried.sum())
    odds = share / (1 - share)
    worked = tried * (1 - share)
    a, b = _fitted(misfit, odds, float(worked.mean()), float(worked.sum()))
    return Prior(a, b, len(bad))


def shrunk_rate(events: int, time: float, usual: Prior, confidence: float = 0.9) -> Shrunk:
    """Return a unit's rate between its own count and what is usual.

    Raises
    ------
    ValueError
        If the count or time is impossible.

    References
    ----------
    Posterior of a gamma prior and a Poisson count, mean (a + k) / (b + t); any textbook.
    """
    checked_confidence(confidence)
    if events < 0 or not math.isfinite(time) or time <= 0:
        raise ValueError(f"{events} events in a time of {time} is impossible")
    shape, rate, tail = usual.a + events, usual.b + time, (1 - confidence) / 2
    low, high = (float(gammaincinv(shape, p)) / rate for p in (tail, 1 - tail))
    return Shrunk(events / time, usual.a / usual.b, shape / rate, low, high, usual.b / rate)


def shrunk_share(failed: int, trials: int, usual: Prior, confidence: float = 0.9) -> Shrunk:
    """Return a unit's failed share between its own count and what is usual.

    Raises
    ------
    ValueError
        If the counts are impossible.

    References
    ----------
    Posterior of a beta prior and a binomial count, mean (a + x) / (a + b + n); any textbook.
    """
    checked_confidence(confidence)
    if trials < 1 or not 0 <= failed <= trials:
        raise ValueError(f"{failed} failures in {trials} trials is impossible")
    worth, tail = usual.a + usual.b, (1 - confidence) / 2
    a, b = usual.a + failed, usual.b + trials - failed
    low, high = (float(betaincinv(a, b, p)) for p in (tail, 1 - tail))
    weight = worth / (worth + trials)
    return Shrunk(failed / trials, usual.a / worth, a / (a + b), low, high, weight)


def _fitted(
    misfit: Callable[[float, float], float], ratio: float, size: float, whole: float
) -> tuple[float, float]:
    """Return the a and b that fit best.

    Units that do not differ at all would let b grow without end: together they are never worth
    more than the `whole` of what was watched of them.
    """
    from scipy.optimize import minimize

    least, most = math.log(size * NARROWEST), math.log(whole)

    def pair(logs: NDArray[np.float64]) -> tuple[float, float]:
        b = math.exp(min(max(float(logs[1]), least), most))
        return math.exp(float(logs[0])) * b, b

    begin = [math.log(ratio), math.log(size)]

    def cost(logs: NDArray[np.float64]) -> float:
        return misfit(*pair(logs))

    found = minimize(cost, begin, method="Nelder-Mead", tol=1e-10)
    return pair(found.x)


def _row(values: Sequence[float]) -> NDArray[np.float64]:
    row = np.asarray(values, dtype=np.float64).reshape(-1)
    if not np.all(np.isfinite(row)):
        raise ValueError("a count or time is not a finite number")
    return row
