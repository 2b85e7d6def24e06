"""Times to failure of many units: survival, a Weibull fit, and the soak length that costs least.

For a bench's own come-backs, not for one unit's grade. With a handful of failures a fit is a curve
through nothing, so it is refused.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

FEWEST_FAILURES = 5
"""Below so many failures no fit is told (our own choice)."""
SHORTEST_H = 0.1
"""A falling hazard is without bound at time 0, so some seconds always pay on paper: no soak."""
LEAST_SHAPE = 0.3
"""A fitted shape below this says that the data hold no scale to speak of (our own choice)."""


@dataclass(frozen=True, slots=True)
class Survival:
    """The share that still works after each time at which something failed.

    Attributes
    ----------
    times : tuple of float
        In the measurement unit of the data.
    shares : tuple of float
        Kaplan-Meier estimates just after those times.
    """

    times: tuple[float, ...]
    shares: tuple[float, ...]

    def at(self, time: float) -> float:
        """Return the share that still works after `time`."""
        below = [share for t, share in zip(self.times, self.shares, strict=True) if t <= time]
        return below[-1] if below else 1.0

    @property
    def median(self) -> float | None:
        """The first time after which no more than half still work; None if it is never reached."""
        half = (t for t, share in zip(self.times, self.shares, strict=True) if share <= 0.5)
        return next(half, None)


@dataclass(frozen=True, slots=True)
class Weibull:
    """A two-parameter Weibull distribution, with its log-likelihood on the data of its fit."""

    shape: float
    scale: float
    log_likelihood: float

    def survival(self, time: float) -> float:
        """Return the share that works longer than `time`."""
        return float(math.exp(-((time / self.scale) ** self.shape)))

    def life(self, failed_share: float) -> float:
        """Return the time by which a share has failed (0.1: the B10 life)."""
        return float(self.scale * (-math.log1p(-failed_share)) ** (1 / self.shape))


def kaplan_meier(failed: Sequence[float], working: Sequence[float]) -> Survival:
    """Estimate survival.

    Parameters
    ----------
    failed, working : sequences of float
        Times at failure; times of units that still worked when last seen (right-censored).

    Raises
    ------
    ValueError
        If there is no failure, or a time is negative or not finite.

    References
    ----------
    Kaplan & Meier, Journal of the American Statistical Association 53 (1958) 457-481.
    """
    from scipy.stats import ecdf

    _check(failed, working)
    found = ecdf(_censored(failed, working)).sf
    events = np.isin(found.quantiles, failed)
    times, shares = found.quantiles[events], found.probabilities[events]
    return Survival(tuple(map(float, times)), tuple(map(float, shares)))


def log_rank(
    failed: Sequence[float],
    working: Sequence[float],
    other_failed: Sequence[float],
    other_working: Sequence[float],
) -> tuple[float, float]:
    """Compare the lives of two groups; return the statistic (chi-square, 1 degree) and its chance.

    Raises
    ------
    ValueError
        As `kaplan_meier`, for either group.

    References
    ----------
    Log-rank test of Mantel, Cancer Chemotherapy Reports 50 (1966) 163-170.
    """
    from scipy.stats import logrank

    _check(failed, working)
    _check(other_failed, other_working)
    found = logrank(_censored(failed, working), _censored(other_failed, other_working))
    return float(found.statistic) ** 2, float(found.pvalue)


def fit_weibull(failed: Sequence[float], working: Sequence[tuple[float, int]]) -> Weibull:
    """Fit a Weibull distribution by maximum likelihood.

    Parameters
    ----------
    working : sequence of (float, int)
        Times without failure, and how many units reached each.

    Raises
    ------
    ValueError
        If there are fewer than five failures, or the data hold no scale: such a fit would only
        be extrapolated from.

    References
    ----------
    Meeker & Escobar, Statistical Methods for Reliability Data (1998), chapter 8.
    """
    from scipy.optimize import brentq

    _check(failed, [time for time, _ in working])
    if len(failed) < FEWEST_FAILURES:
        raise ValueError(f"{len(failed)} failures are too few to fit; {FEWEST_FAILURES} at least")
    t = np.array([*failed, *(time for time, _ in working)], float)
    weight = np.array([1.0] * len(failed) + [float(n) for _, n in working])
    logs = np.log(failed)

    def score(shape: float) -> float:
        power = weight * t**shape
        return float((power @ np.log(t)) / power.sum() - 1 / shape - logs.mean())

    if score(LEAST_SHAPE) > 0:
        raise ValueError("the data hold no scale; anything told beyond them would be invented")
    shape = float(brentq(score, LEAST_SHAPE, 50.0))
    scale = float(((weight * t**shape).sum() / len(failed)) ** (1 / shape))
    r = len(failed)
    likelihood = r * math.log(shape) - r * shape * math.log(scale) + (shape - 1) * logs.sum()
    likelihood -= float((weight * (t / scale) ** shape).sum())
    return Weibull(shape, scale, float(likelihood))


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """What soaking costs and saves; any one currency.

    Attributes
    ----------
    per_hour : float
        An hour of soaking.
    failed_here : float
        A failure on the bench.
    came_back : float
        A failure at the buyer within the warranty.
    warranty_h : float
        Length of the warranty, in hours of running.
    """

    per_hour: float
    failed_here: float
    came_back: float
    warranty_h: float


def cost(life: Weibull, hours: float, costs: Costs) -> float:
    """Return the expected cost of soaking for so many hours.

    References
    ----------
    Cost model of burn-in: an hour's cost, failures during it, and failures in the warranty of what
    survived it; as in Jensen & Petersen, Burn-in (1982); not checked against the book.
    """
    left = life.survival(hours)
    returned = 1 - life.survival(hours + costs.warranty_h) / left
    return costs.per_hour * hours + costs.failed_here * (1 - left) + costs.came_back * returned


def cheapest_length_h(life: Weibull, costs: Costs) -> float:
    """Return the soak length that costs least, h; 0 where soaking only costs.

    Early failures can be soaked out only where the hazard falls (shape below 1).
    """
    from scipy.optimize import minimize_scalar

    if life.shape >= 1:
        return 0.0
    longest_h = 10 * costs.warranty_h
    found = minimize_scalar(
        lambda hours: cost(life, hours, costs), bounds=(0.0, longest_h), method="bounded"
    )
    worth = found.x >= SHORTEST_H and found.fun < cost(life, 0.0, costs)
    return float(found.x) if worth else 0.0


def _censored(failed: Sequence[float], working: Sequence[float]) -> Any:
    from scipy.stats import CensoredData

    return CensoredData(uncensored=list(failed), right=list(working))


def _check(failed: Sequence[float], working: Sequence[float]) -> None:
    times = [*failed, *working]
    if not failed:
        raise ValueError("nothing failed: there is nothing to estimate, only a bound to state")
    if any(not math.isfinite(time) or time <= 0 for time in times):
        raise ValueError("a time to failure is a positive number")
