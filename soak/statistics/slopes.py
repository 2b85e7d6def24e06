"""The median of all pairwise slopes, with its bounds, without loading all of scipy.stats.

Every report judges a drift; the routine in `scipy.stats` costs half a second and 60 MB to load.
This one is the definition itself and is tested against that routine.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from soak.evidence import Floats


class Slope(NamedTuple):
    """A slope with its bounds, and the intercept median(y) - slope * median(x)."""

    slope: float
    intercept: float
    bound_low: float
    bound_high: float


def median_slope(when: Floats, values: Floats, confidence: float) -> Slope:
    """Return the median slope over all pairs.

    Parameters
    ----------
    when, values : ndarray
        Shape (n,), n >= 2, not all of one time. All n(n-1)/2 slopes are held in memory.
    confidence : float
        Of the two-sided bounds, 0 to 1.

    References
    ----------
    Theil, Nederl. Akad. Wetensch. Proc. 53 (1950). Sen, "Estimates of the regression coefficient
    based on Kendall's tau", Journal of the American Statistical Association 63 (1968) 1379-1389:
    bounds by the normal approximation of Kendall's score with its variance for ties.
    """
    run = when[:, np.newaxis] - when
    later = run > 0
    slopes = np.sort((values[:, np.newaxis] - values)[later] / run[later])
    slope = float(np.median(slopes))
    n = len(values)
    ties = sum(_tied(np.unique(row, return_counts=True)[1]) for row in (when, values))
    spread = np.sqrt((n * (n - 1) * (2 * n + 5) - ties) / 18)
    z = float(ndtri((1 + confidence) / 2))
    high = min(round((len(slopes) + z * spread) / 2), len(slopes) - 1)
    low = max(round((len(slopes) - z * spread) / 2) - 1, 0)
    intercept = float(np.median(values) - slope * np.median(when))
    return Slope(slope, intercept, float(slopes[low]), float(slopes[high]))


def _tied(counts: NDArray[np.intp]) -> float:
    many = counts[counts > 1]
    return float(np.sum(many * (many - 1) * (2 * many + 5)))
