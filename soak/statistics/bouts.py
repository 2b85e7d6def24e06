"""Bouts of faults: do faults come in bouts, which gap parts two of them, how many bouts are there.

Contacts fail in bouts, and then so many faults tell less than so many independent ones would. What
is counted here are bouts, in *live time*: for the length of the gap after each fault a new bout
could not be told from the one before, so that this time does not count either. Whatever the gap,
bouts that begin at a steady rate then come in live time as a Poisson process does, and a bout that
falls to pieces only adds to them. One fault is always one bout.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc

from soak.statistics.bounds import rate_at_most

Floats = NDArray[np.float64]

SHOWN = 0.05
"""Gaps so uneven by luck once in twenty show that faults come in bouts. Common practice."""

SUSPECTED = 0.8
"""Gaps at least so uneven, which four of five units with independent faults show, are taken for
bouts where fewer bouts are the safe side. By simulation (`benchmarks/bouts.py`): by 0.5 short
intakes of units with bouts of ten called what nobody had mended gone in 0.08."""

CLEAR = 5.0
"""Pauses so many times as long as gaps within a bout part bouts clearly. Our own choice; by
simulation bounds hold below it too, but then the gap tells two kinds apart that hardly differ."""

FEWEST = 5
"""From so many bouts on a bound of their rate is stated, or where there is none: by fewer nobody
can tell how they come. Our own choice."""

_STRAYS = 0.05
"""Where fewer bouts are the safe side, the gap is so long that within bouts so many longer ones are
to be expected at most. Our own choice."""

_SPLITS, _STEPS, _SETTLED = 12, 500, 1e-9
"""The fit begins from so many ways to part the gaps, takes so many steps at most, and ends where a
step gains less than the last. Our own choice."""


@dataclass(frozen=True, slots=True)
class Gaps:
    """The gaps of faults as a mixture of two exponential kinds, in one measurement unit.

    Attributes
    ----------
    within, between : float
        Mean gap within a bout, and mean pause before the next one.
    share : float
        Share of the gaps that lie within bouts, 0 to 1.
    log_likelihood : float
        Of what was seen.
    """

    within: float
    between: float
    share: float
    log_likelihood: float

    @property
    def parting(self) -> float:
        """The gap that parts two bouts: from it on a pause is the likelier.

        References
        ----------
        Langton, Collett & Sibly, "Splitting behaviour into bouts; a maximum likelihood approach",
        Behaviour 132 (1995) 781-799, after Slater & Lester, Behaviour 79 (1982) 153-161.
        """
        steeper = 1 / self.within - 1 / self.between
        odds = self.share * self.between / ((1 - self.share) * self.within)
        return max(0.0, math.log(odds) / steeper)


@dataclass(frozen=True, slots=True)
class Bouts:
    """Bouts as they are counted.

    Attributes
    ----------
    number : int
    live : float
        Time in which a bout could have begun and been told, in the measurement unit of the times.
    gap : float
        Faults so close are one bout; 0: each counts by itself.
    clear : bool
        Whether that gap parts bouts clearly, where they are bouts.
    """

    number: int
    live: float
    gap: float = 0.0
    clear: bool = True

    @property
    def enough(self) -> bool:
        """Whether a bound of their rate may be stated."""
        return self.live > 0 and (not self.number or (self.clear and self.number >= FEWEST))

    def rate_at_most(self, confidence: float) -> float | None:
        """Return the upper bound of bouts per unit of live time; None where none is stated.

        Raises
        ------
        ValueError
            If the confidence does not lie between 0 and 1.
        """
        return rate_at_most(self.number, self.live, confidence) if self.enough else None


def uneven_chance(spacings: Sequence[float]) -> float:
    """Return the chance of spacings at least so uneven if faults are independent.

    Parameters
    ----------
    spacings : sequence of float
        Times from the begin to the first fault, between faults, and from the last to the end; each
        above 0.

    References
    ----------
    Moran, "The random division of an interval, part II", JRSS B 13 (1951) 147-150, with Bartlett's
    factor: Epstein, "Tests for the validity of the assumption that the underlying distribution of
    life is exponential", Technometrics 2 (1960) 83-101. Its upper tail alone: more uneven.
    """
    number = len(spacings)
    if number < 2:
        return 1.0
    values = np.asarray(spacings, dtype=np.float64)
    uneven = math.log(float(values.mean())) - float(np.log(values).mean())
    statistic = 2 * number * uneven / (1 + (number + 1) / (6 * number))
    return float(chdtrc(number - 1, max(0.0, statistic)))


def learned(spacings: Sequence[float]) -> Gaps | None:
    """Learn the two kinds of gap from spacings as of `uneven_chance`, by maximum likelihood.

    The first spacing is a pause, the last a gap or pause that was cut off. None where the gaps are
    of one kind.

    References
    ----------
    Langton, Collett & Sibly (1995), as `Gaps.parting`; expectation-maximisation of Dempster, Laird
    & Rubin, JRSS B 39 (1977) 1-38, from several splits of the gaps in order of length.
    """
    first, *between, last = spacings
    gaps = np.sort(np.asarray(between, dtype=np.float64))
    if not len(gaps):
        return None
    number = len(gaps)
    splits = {max(1, round(number * part / _SPLITS)) for part in range(1, _SPLITS + 1)}
    splits |= set(range(max(1, number - 4), number + 1))
    fits = [_climbed(first, gaps, last, at) for at in sorted(splits)]
    good = [fit for fit in fits if fit is not None]
    return max(good, key=lambda one: one.log_likelihood, default=None)


def _climbed(first: float, gaps: Floats, last: float, at: int) -> Gaps | None:
    """Climb to the likeliest mixture from the split at the shortest `at` gaps."""
    number = len(gaps)
    within = float(gaps[:at].mean())
    between = (float(gaps[at:].sum()) + first + last) / (number - at + 1)
    share = (at + 0.5) / (number + 1)
    before = -math.inf
    for _ in range(_STEPS):
        if not (0 < within < between and 0 < share < 1):
            return None
        short = share / within * np.exp(-gaps / within)
        long = (1 - share) / between * np.exp(-gaps / between)
        ends_short = share * math.exp(-last / within)
        ends = ends_short + (1 - share) * math.exp(-last / between)
        likely = float(np.log(short + long).sum()) - math.log(between) - first / between
        likely += math.log(ends)
        if likely - before < _SETTLED:
            break
        before = likely
        own = short / (short + long)
        cut = ends_short / ends
        total = float(own.sum())
        within = (float(own @ gaps) + cut * last) / total
        between = (float((1 - own) @ gaps) + (1 - cut) * last + first) / (number - total + 1)
        share = (total + cut) / (number + 1)
    return Gaps(within, between, share, likely)


def by_gap(times: Sequence[float], watched: float, gap: float) -> Bouts:
    """Count bouts by a gap that was fixed before.

    Parameters
    ----------
    times : sequence of float
        Time watched before each fault, in order.
    watched : float
        Time watched in all, in the same measurement unit.

    References
    ----------
    Counting with an extended dead time: Cox & Isham, Point Processes (1980), 4.3; in live time
    what could be counted comes at the rate itself.
    """
    if not len(times):
        return Bouts(0, watched, gap)
    pauses = np.diff(np.asarray(times, dtype=np.float64))
    live = float(np.maximum(pauses - gap, 0.0).sum())
    live += times[0] + max(0.0, watched - times[-1] - gap)
    return Bouts(1 + int((pauses > gap).sum()), live, gap)


def most_bouts(times: Sequence[float], watched: float, resolution: float) -> Bouts:
    """Count as many bouts as there may be: faults are one only where they are shown to be bouts.

    For what must not be too low: an upper bound, a plan that accepts.

    Parameters
    ----------
    times, watched
        As in `by_gap`.
    resolution : float
        Gaps are told no finer than this, in the same measurement unit.
    """
    spacings = _spacings(times, watched, resolution)
    if len(times) < 2 or uneven_chance(spacings) > SHOWN:
        return by_gap(times, watched, 0.0)
    gaps = learned(spacings)
    if gaps is None:
        return Bouts(len(times), watched, 0.0, clear=False)
    bouts = by_gap(times, watched, gaps.parting)
    clear = gaps.between >= CLEAR * gaps.within
    return Bouts(bouts.number, bouts.live, bouts.gap, clear)


def fewest_bouts(times: Sequence[float], watched: float, resolution: float) -> Bouts:
    """Count as few bouts as there may be: faults are one wherever they may be of one bout.

    For where more faults before make a quiet since more telling. Parameters as of `most_bouts`.
    """
    spacings = _spacings(times, watched, resolution)
    if len(times) < 2 or uneven_chance(spacings) > SUSPECTED:
        return by_gap(times, watched, 0.0)
    gaps = learned(spacings)
    if gaps is None:
        return by_gap(times, watched, max(spacings[1:-1]))
    strays = max(1.0, len(times) * gaps.share) / _STRAYS
    bouts = by_gap(times, watched, max(gaps.parting, gaps.within * math.log(strays)))
    return bouts if bouts.number < len(times) else by_gap(times, watched, 0.0)


def _spacings(times: Sequence[float], watched: float, resolution: float) -> list[float]:
    ends = [0.0, *times, watched]
    return [float(gap) for gap in np.maximum(np.diff(ends), resolution)]
