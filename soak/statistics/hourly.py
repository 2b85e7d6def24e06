"""A rate per hour held to by a count that is fixed before: how many may come in so long a time."""

from scipy.special import pdtr

HALF_PASSES = 0.95
"""A unit at half the allowed rate passes with this chance at least: turning a good unit away costs
as in the plans for stopping early, 1 in 20 (`good_rejected`). Our own choice."""

MULTIPLES = (0.5, 1.0, 2.0, 4.0)
"""Multiples of the allowed rate at which a count's chances are told. Our own choice."""


def count_allowed(expected: float) -> int:
    """Return how many may come where `expected` come on average at the allowed rate.

    The smallest count that a unit at half the rate keeps with a chance of `HALF_PASSES`: the count
    of the rate itself would turn away a unit well below it by luck alone.

    Raises
    ------
    ValueError
        If `expected` is negative.
    """
    if not expected >= 0:
        raise ValueError(f"{expected} expected events are impossible")
    allowed = 0
    while chance_passed(allowed, expected / 2) < HALF_PASSES:
        allowed += 1
    return allowed


def chance_passed(allowed: int, expected: float) -> float:
    """Return the chance that no more than `allowed` events come where `expected` do on average.

    References
    ----------
    The Poisson distribution; a single sampling plan's operating characteristic, NIST/SEMATECH
    e-Handbook 6.2.3.2.
    """
    return float(pdtr(allowed, expected))
