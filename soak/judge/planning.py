"""Making a truncated sequential plan: from what is good, what is bad, and two risks."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import bdtr, pdtr

from soak.statistics.bounds import checked_confidence
from soak.statistics.plans import HoursPlan, StartsPlan
from soak.words import Number, msg

WIDER = (1.0, 0.7, 0.4, 0.2)
"""Nominal risks of the lines as shares of the risks asked: wider lines decide later and are cut
off earlier. The plan with the smallest sum of longest and usual length is taken. Our own choice."""

MOST_STARTS, MOST_FAILURES = 5000, 200
"""A plan longer than this is of no use on a bench. Our own choice."""


PARTED_BY = 0.2
"""Losses are one bout for a plan if they are less than this share of the bad unit's mean time
apart. At any gap a bad unit is accepted no oftener than stated, for the time after each loss does
not count; a longer one turns away fewer good units whose bouts are drawn out, and takes longer. By
simulation (`benchmarks/bouts.py`)."""


def gap_of_plan(bad: float) -> float:
    """Return the gap that parts two bouts for a plan, in the measurement unit of `bad`."""
    return PARTED_BY * bad


@dataclass(frozen=True, slots=True)
class Wald:
    """The straight lines of a sequential test: accept below, reject above.

    `accept = -below + slope * n`, `reject = above + slope * n`, in failures.
    """

    below: float
    above: float
    slope: float


def wald_starts(good: float, bad: float, alpha: float, beta: float) -> Wald:
    """Return the lines for starts; `alpha` rejects a good unit, `beta` accepts a bad one.

    Raises
    ------
    ValueError
        If the shares or risks are impossible, or `good` is not below `bad`.

    References
    ----------
    Wald, Sequential Analysis (1947); NIST/SEMATECH e-Handbook 6.2.6.
    """
    _checked_risks(alpha, beta)
    if not 0 < good < bad < 1:
        raise ValueError(
            msg(
                "{good} and {bad}: the good share lies above 0 and below the bad one",
                good=Number(good, "g"),
                bad=Number(bad, "g"),
            )
        )
    k = math.log(bad * (1 - good) / (good * (1 - bad)))
    return Wald(
        math.log((1 - alpha) / beta) / k,
        math.log((1 - beta) / alpha) / k,
        math.log((1 - good) / (1 - bad)) / k,
    )


def wald_hours(good: float, bad: float, alpha: float, beta: float) -> Wald:
    """Return the lines for hours; `good` and `bad` are mean times between failures.

    Raises
    ------
    ValueError
        If the times or risks are impossible, or `bad` is not below `good`.

    References
    ----------
    Wald, Sequential Analysis (1947); Epstein & Sobel, Annals of Mathematical Statistics 26 (1955)
    82-93 (exponential times).
    """
    _checked_risks(alpha, beta)
    if not (0 < bad < good < math.inf):
        raise ValueError(
            msg(
                "{good} and {bad}: the bad mean time lies above 0 and below the good one",
                good=Number(good, "g"),
                bad=Number(bad, "g"),
            )
        )
    k = math.log(good / bad)
    slope = (1 / bad - 1 / good) / k
    return Wald(math.log((1 - alpha) / beta) / k, math.log((1 - beta) / alpha) / k, slope)


def starts_plan(good: float, bad: float, alpha: float, beta: float) -> StartsPlan:
    """Return a short truncated plan whose true risks are no larger than asked.

    Raises
    ------
    ValueError
        As `wald_starts`; or if even 5000 starts are too few to tell the two apart.

    References
    ----------
    IEC 61123 asks for truncated plans; the lines are Wald's, the risks computed exactly here.
    """
    wald_starts(good, bad, alpha, beta)
    best = None
    costs = float(MOST_STARTS)
    for wider in reversed(WIDER):  # the widest lines surely give a plan, which limits the search
        plan = _starts_plan(good, bad, alpha, beta=beta, wider=wider, most_starts=int(costs))
        if plan is not None and (best is None or _length(plan, good) <= costs):
            best = plan
            costs = min(float(MOST_STARTS), _length(plan, good))
    if best is None:
        raise ValueError(
            msg(
                "no plan of {most} starts or fewer tells {good} from {bad} at these risks",
                most=MOST_STARTS,
                good=Number(good, "g"),
                bad=Number(bad, "g"),
            )
        )
    return best


def _length(plan: StartsPlan | HoursPlan, good: float) -> float:
    """Return longest and usual length together: what a plan is chosen by."""
    return plan.longest + plan.outlook(good).expected


def _starts_plan(
    good: float, bad: float, alpha: float, beta: float, wider: float, most_starts: int
) -> StartsPlan | None:
    lines = wald_starts(good, bad, alpha * wider, beta * wider)
    for longest in _lengths(1, most_starts):
        # A plan cut off after so many starts is no better than the best one that takes them all.
        fewest = _fewest_allowed(good, alpha, longest)
        if fewest > 0 and bdtr(fewest - 1, longest, bad) > beta:
            continue
        least, most = _lines(lines, longest)
        for last in range(max(0, fewest - 1), int(longest * bad) + 1):
            plan = _cut(least, most, last)
            if plan is None or 1 - plan.outlook(good).accepted > alpha:
                continue
            if plan.outlook(bad).accepted <= beta:
                return plan
            break  # accepting more at the end only raises the risk of accepting a bad unit
    return None


def _fewest_allowed(good: float, alpha: float, longest: int) -> int:
    """Return the failures to allow so that a good unit is rejected no more often than asked."""
    allowed = np.arange(longest + 1)
    return int(np.argmax(1 - bdtr(allowed, longest, good) <= alpha))


def _lines(lines: Wald, longest: int) -> tuple[list[int], list[int]]:
    starts = range(1, longest + 1)
    least = [max(-1, math.floor(lines.slope * n - lines.below + 1e-9)) for n in starts]
    most = [math.ceil(lines.slope * n + lines.above - 1e-9) for n in starts]
    return least, most


def _cut(least: Sequence[int], most: Sequence[int], last: int) -> StartsPlan | None:
    """End a plan so that `last` failures or fewer accept; None if the lines forbid it."""
    if not least[-1] <= last < most[-1]:
        return None
    rejects = [min(number, last + 1) for number in most]
    return StartsPlan([*(min(n, last) for n in least[:-1]), last], rejects)


def hours_plan(good: float, bad: float, alpha: float, beta: float) -> HoursPlan:
    """Return a short truncated plan whose true risks are no larger than asked.

    Parameters
    ----------
    good, bad : float
        Mean times between failures, in one measurement unit; the plan is in the same.

    Raises
    ------
    ValueError
        As `wald_hours`; or if even 200 failures are too few to tell the two apart.

    References
    ----------
    IEC 61124 asks for truncated plans; the lines are Wald's, the risks computed exactly here.
    """
    wald_hours(good, bad, alpha, beta)
    best = None
    costs = math.inf
    for wider in reversed(WIDER):  # as for starts: what the widest lines cost limits the search
        plan = _hours_plan(good, bad, alpha, beta=beta, wider=wider, most=costs)
        if plan is not None and (best is None or _length(plan, good) <= costs):
            best = plan
            costs = _length(plan, good)
    if best is None:
        raise ValueError(
            msg(
                "no plan of {most} failures or fewer tells {good} from {bad} at these risks",
                most=MOST_FAILURES,
                good=Number(good, "g"),
                bad=Number(bad, "g"),
            )
        )
    return best


def _hours_plan(
    good: float, bad: float, alpha: float, beta: float, wider: float, most: float
) -> HoursPlan | None:
    lines = wald_hours(good, bad, alpha * wider, beta * wider)
    for failures in range(1, MOST_FAILURES + 1):
        if failures * bad * 0.5 > most:
            return None  # all that follow are longer than the best one
        for longest in np.linspace(failures * bad * 0.5, failures * good, 60):
            if not _tells_apart(float(longest), good, bad, alpha=alpha, beta=beta):
                continue
            plan = _cut_hours(lines, failures, float(longest))
            if plan is None or plan.outlook(bad).accepted > beta:
                continue
            if 1 - plan.outlook(good).accepted <= alpha:
                return plan
            break  # a longer time only raises the risk of rejecting a good unit
    return None


def _tells_apart(longest: float, good: float, bad: float, alpha: float, beta: float) -> bool:
    """Tell whether counting all of `longest` would do: no plan cut off there is better."""
    allowed = np.arange(MOST_FAILURES + 1)
    enough = pdtr(allowed, longest / good) >= 1 - alpha
    if not enough.any():
        return False
    fewest = int(np.argmax(enough))
    return fewest == 0 or float(pdtr(fewest - 1, longest / bad)) <= beta


def _cut_hours(lines: Wald, failures: int, longest: float) -> HoursPlan | None:
    """End a plan at `longest` or at so many failures; None if the lines end before."""
    accept = [(lines.below + r) / lines.slope for r in range(failures)]
    reject = [(r - lines.above) / lines.slope for r in range(1, failures + 1)]
    if accept[0] > longest or (failures > 1 and reject[-2] > longest):
        return None
    return HoursPlan([min(t, longest) for t in accept[:-1]] + [longest], [*reject[:-1], longest])


def _checked_risks(alpha: float, beta: float) -> None:
    for risk in (alpha, beta):
        checked_confidence(1 - risk)
    if alpha + beta >= 1:
        raise ValueError(
            msg(
                "risks of {alpha} and {beta} together leave nothing to decide",
                alpha=Number(alpha, "g"),
                beta=Number(beta, "g"),
            )
        )


def _lengths(first: int, last: int) -> Iterator[int]:
    """Yield lengths that grow by a fiftieth, at least by 1."""
    length = first
    while length <= last:
        yield length
        length += max(1, length // 50)
