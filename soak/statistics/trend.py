"""Whether a row of values or of results changes while it lasts."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from soak.evidence import Floats
from soak.statistics.compare import compare_shares

MOST_EXACT = 10
"""So few values are tested exactly (Gilbert 1987, as quoted in EPA QA/G-9S); more by z."""

MOST_FOR_SLOPE = 1000
"""A slope takes all pairs: of longer rows evenly chosen values are enough. Our own choice."""


@dataclass(frozen=True, slots=True)
class Trend:
    """Result of the Mann-Kendall test.

    Attributes
    ----------
    s : int
        Number of pairs that rise minus number of pairs that fall.
    variance : float
        Of `s` where there is no trend, ties accounted for.
    z : float or None
        `s` in standard deviations, one step nearer to 0 (continuity); None if tested exactly.
    chance : float
        Two-sided chance of an `s` so far from 0 where there is no trend.
    method : str
        How the chance was found.
    """

    s: int
    variance: float
    z: float | None
    chance: float
    method: str


def mann_kendall(values: Sequence[float]) -> Trend:
    """Test whether values in order of time rise or fall; ties are allowed.

    Raises
    ------
    ValueError
        If there are fewer than 3 values, or one is not finite.

    References
    ----------
    scipy's `kendalltau` gives neither the exact chance with ties nor the step nearer to 0.

    Mann, Econometrica 13 (1945) 245-259; Kendall, Rank Correlation Methods (1975); EPA QA/G-9S,
    Data Quality Assessment: Statistical Methods for Practitioners (2006), the Mann-Kendall test.
    """
    row = _checked(values, 3)
    s = int(sum(np.sign(row[at + 1 :] - row[at]).sum() for at in range(len(row) - 1)))
    ties = np.unique(row, return_counts=True)[1]
    number = len(row)
    spread = _spread(number) - sum(_spread(int(tie)) for tie in ties)
    variance = spread / 18
    if number <= MOST_EXACT:
        chance = _exact_chance(number, [int(tie) for tie in ties], s)
        return Trend(s, variance, None, chance=chance, method="Mann-Kendall, exact")
    if variance == 0:
        return Trend(s, 0.0, 0.0, chance=1.0, method="Mann-Kendall; all values are the same")
    z = (s - np.sign(s)) / math.sqrt(variance)
    chance = math.erfc(abs(z) / math.sqrt(2))
    return Trend(
        s, variance, float(z), chance=chance, method="Mann-Kendall, normal approximation with ties"
    )


def _spread(number: int) -> int:
    return number * (number - 1) * (2 * number + 5)


def _exact_chance(number: int, ties: Sequence[int], s: int) -> float:
    """Return the chance of |S| this large over all orders of values tied so.

    The number of orders with k falling pairs is the coefficient of q^k in the Gaussian
    multinomial coefficient (MacMahon, Combinatory Analysis, 1915).
    """
    counts = _gaussian_factorial(number)
    for tie in ties:
        counts = _divided(counts, _gaussian_factorial(tie))
    pairs = len(counts) - 1
    far = sum(count for k, count in enumerate(counts) if abs(pairs - 2 * k) >= abs(s))
    return far / sum(counts)


def _gaussian_factorial(number: int) -> list[int]:
    """Return the coefficients of (1)(1 + q)(1 + q + q^2)... with `number` factors."""
    counts = [1]
    for width in range(2, number + 1):
        longer = [0] * (len(counts) + width - 1)
        for at, count in enumerate(counts):
            for step in range(width):
                longer[at + step] += count
        counts = longer
    return counts


def _divided(whole: Sequence[int], part: Sequence[int]) -> list[int]:
    """Divide two polynomials that divide without a rest; both begin with 1."""
    rest = list(whole)
    quotient = []
    for at in range(len(whole) - len(part) + 1):
        quotient.append(rest[at])
        for step, count in enumerate(part):
            rest[at + step] -= quotient[-1] * count
    return quotient


class Slope(NamedTuple):
    """A slope with its bounds, and the intercept median(y) - slope * median(x)."""

    slope: float
    intercept: float
    bound_low: float
    bound_high: float


def theil_sen(
    times: Sequence[float] | Floats, values: Sequence[float] | Floats, confidence: float = 0.95
) -> Slope:
    """Return the median slope over all pairs, with bounds that hold at `confidence` together.

    Raises
    ------
    ValueError
        If there are fewer than 3 pairs, the lengths differ, all times are the same, or a number
        is not finite.

    References
    ----------
    Theil, Nederl. Akad. Wetensch. Proc. 53 (1950); Sen, Journal of the American Statistical
    Association 63 (1968) 1379-1389 (bounds by the normal approximation of Kendall's score with its
    variance for ties).
    """
    when = _checked(times, 3)
    row = _checked(values, 3)
    if len(when) != len(row):
        raise ValueError(f"{len(when)} times and {len(row)} values do not belong together")
    if np.all(when == when[0]):
        raise ValueError("all values are of one time; there is no slope")
    if np.all(row == row[0]):
        return Slope(0.0, float(row[0]), 0.0, 0.0)
    from scipy.stats import theilslopes  # takes half a second to load

    keep = np.unique(np.linspace(0, len(row) - 1, MOST_FOR_SLOPE).round().astype(int))
    return Slope(*map(float, theilslopes(row[keep], when[keep], confidence)))


def few_runs_chance(results: Sequence[bool]) -> float:
    """Return the chance of so few runs of like results if their order is a matter of luck.

    Few runs mean that failures come in bunches. Where all results are alike it is 1.

    References
    ----------
    Wald & Wolfowitz, Annals of Mathematical Statistics 11 (1940) 147-162; Swed & Eisenhart, same
    journal 14 (1943) 66-87 (exact distribution); NIST/SEMATECH e-Handbook 1.3.5.13.
    """
    bad = sum(map(bool, results))
    good = len(results) - bad
    if not bad or not good:
        return 1.0
    runs = 1 + sum(bool(one) != bool(then) for one, then in pairwise(results))
    total = _log_ways(bad + good, bad)
    chance = 0.0
    for number in range(2, runs + 1):
        half, odd = divmod(number, 2)
        splits = [(half, half + 1), (half + 1, half)] if odd else [(half, half)] * 2
        chance += sum(
            math.exp(_log_ways(bad - 1, one - 1) + _log_ways(good - 1, other - 1) - total)
            for one, other in splits
            if one <= bad and other <= good
        )
    return min(1.0, chance)


@dataclass(frozen=True, slots=True)
class Halves:
    """Failures in the first and in the second half of a row.

    Attributes
    ----------
    early, early_failed, late, late_failed : int
        Trials and failures; the middle one of an odd number counts as early.
    chance : float
        Two-sided chance of a split so uneven if all trials are alike (Fisher's exact test).
    """

    early: int
    early_failed: int
    late: int
    late_failed: int
    chance: float


def halves(results: Sequence[bool]) -> Halves:
    """Compare the first half of a row of results, true for failed, with the second half.

    References
    ----------
    Fisher, The Design of Experiments (1935), the exact test of a table of two by two.
    """
    middle = (len(results) + 1) // 2
    early = sum(results[:middle])
    late = sum(results[middle:])
    rest = len(results) - middle
    chance = compare_shares(early, middle, late, rest).differ if early + late and rest else 1.0
    return Halves(middle, early, rest, late_failed=late, chance=chance)


def _log_ways(number: int, chosen: int) -> float:
    """Return the logarithm of the binomial coefficient."""
    return math.lgamma(number + 1) - math.lgamma(chosen + 1) - math.lgamma(number - chosen + 1)


def _checked(
    values: Sequence[float] | Floats, at_least: int
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    row = np.asarray(values, dtype=np.float64).reshape(-1)
    if len(row) < at_least:
        raise ValueError(f"{len(row)} values show no trend; it takes at least {at_least}")
    if not np.all(np.isfinite(row)):
        raise ValueError("a value is not a finite number; leave out what was not measured")
    return row
