"""Bounds that belong to a sequential plan: what an acceptance by it shows.

A plan looks at the failures while it runs, so the bounds of a test of fixed length do not hold for
it. Here all ways in which the plan may end are counted; an acceptance with fewer failures is the
better one.
"""

import math

from soak.statistics.bounds import checked_confidence
from soak.statistics.plans import HoursPlan, StartsPlan


def highest_share(plan: StartsPlan, failed: int, confidence: float) -> float:
    """Return the upper bound of the failed share after an acceptance with `failed` failures.

    Raises
    ------
    ValueError
        If the plan never accepts with so many, or the confidence does not lie between 0 and 1.

    References
    ----------
    Jennison & Turnbull, "Confidence intervals for a binomial parameter following a multistage
    test", Technometrics 25 (1983) 49-58: the share at which an acceptance as good as this one or
    better has the chance 1 - C.
    """
    from scipy.optimize import brentq

    _possible(failed, len(plan.outlook(0.5).accepted_with), confidence)

    def surplus(share: float) -> float:
        return sum(plan.outlook(share).accepted_with[: failed + 1]) - (1 - confidence)

    return float(brentq(surplus, 0.0, 1.0, xtol=1e-12))


def shortest_mean(plan: HoursPlan, failures: int, confidence: float) -> float:
    """Return the lower bound of the mean time between failures after such an acceptance.

    In the measurement unit of the plan.

    Raises
    ------
    ValueError
        As `highest_share`.

    References
    ----------
    Bryant & Schmee, "Confidence limits on MTBF for sequential test plans of MIL-STD 781",
    Technometrics 21 (1979) 33-42: as `highest_share`, for times.
    """
    from scipy.optimize import brentq

    _possible(failures, len(plan.accept_at), confidence)

    def surplus(log_mean: float) -> float:
        accepted = plan.outlook(math.exp(log_mean)).accepted_with
        return sum(accepted[: failures + 1]) - (1 - confidence)

    middle = math.log(plan.longest)
    return math.exp(float(brentq(surplus, middle - 7, middle + 20, xtol=1e-12)))


def _possible(failures: int, most: int, confidence: float) -> None:
    checked_confidence(confidence)
    if not 0 <= failures < most:
        raise ValueError(f"this plan accepts with 0 to {most - 1} failures, never with {failures}")
