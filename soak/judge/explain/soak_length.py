"""The soak length that costs least, by a life of many units, and how far the data fix it."""

from dataclasses import dataclass

import numpy as np

from soak.judge.explain.life import Weibull
from soak.words import msg

FEWEST_FAILURES = 20
"""Below so many failures no length is advised: `benchmarks/lives.py` shows how it would spread. Our
own choice."""
SHORTEST_H = 0.1
"""A falling hazard is without bound at time 0, so some seconds always pay on paper: no soak. Our
own choice."""
_LENGTHS = 300
"""Lengths tried first, evenly spread in their logarithm: some 4 % from one to the next. Our own
choice."""


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
    returned = life.fails_within(hours, costs.warranty_h)
    here = life.fails_within(0.0, hours)
    return costs.per_hour * hours + costs.failed_here * here + costs.came_back * returned


def cheapest_length_h(life: Weibull, costs: Costs) -> float:
    """Return the soak length that costs least, h; 0 where soaking only costs.

    Early failures can be soaked out only where the hazard falls (shape below 1).
    """
    from scipy.optimize import minimize_scalar

    about = _about_h(life, costs)
    if not about:
        return 0.0
    step = (10 * costs.warranty_h / SHORTEST_H) ** (1 / (_LENGTHS - 1))
    least = minimize_scalar(
        lambda hours: cost(life, hours, costs),
        bounds=(about / step, about * step),
        method="bounded",
        options={"xatol": 1e-4 * about},
    )
    return float(least.x)


def length_bounds_h(life: Weibull, costs: Costs) -> tuple[float, float]:
    """Return two-sided bounds of the length that costs least, h, over the lives a fit allows.

    Raises
    ------
    ValueError
        If the life was fitted to fewer than 20 failures: the advice would be a guess.
    """
    if life.failures < FEWEST_FAILURES:
        raise ValueError(
            msg(
                "{count} failures are too few to advise a length; {fewest} at least",
                count=life.failures,
                fewest=FEWEST_FAILURES,
            )
        )
    return life.bounds(lambda weibull: _about_h(weibull, costs))


def _about_h(life: Weibull, costs: Costs) -> float:
    """Return the cheapest of the lengths tried, h; 0 where none is cheaper than no soak."""
    if life.shape >= 1 or 10 * costs.warranty_h <= SHORTEST_H:
        return 0.0
    hours = np.geomspace(SHORTEST_H, 10 * costs.warranty_h, _LENGTHS)
    to, through = (
        np.exp(np.minimum(700.0, life.shape * (np.log(h) - np.log(life.scale))))
        for h in (hours, hours + costs.warranty_h)
    )
    costing = (
        costs.per_hour * hours
        - costs.failed_here * np.expm1(-to)
        - costs.came_back * np.expm1(to - through)
    )
    at = int(np.argmin(costing))
    return float(hours[at]) if costing[at] < cost(life, 0.0, costs) else 0.0
