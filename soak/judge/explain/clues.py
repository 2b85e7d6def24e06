"""What the probable causes are read from: faults of the unit, and what was the case meanwhile."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from scipy.special import bdtr, ndtr

from soak.derive.course import Course
from soak.derive.events.faults import UnitFault
from soak.derive.spans import Span, common, holds
from soak.evidence import Floats
from soak.judge.explain.exceeded import all_events

TOGETHER_S = 5.0
"""Two losses so close to each other are one event: a stick is looked at only now and then. Our own
choice."""
_OF_SUPPLY = "supply_margin"
"""The check whose starts are at the supply's limits or after short breaks of it."""
_FEWEST = 3
"""Below so many events a rank test says nothing (our own choice)."""


@dataclass(frozen=True, slots=True)
class Ranked:
    """How the heat at some events compares with the heat all the time (Mann-Whitney).

    Attributes
    ----------
    p_hotter : float
        Chance of the like if heat did not matter: twice the smaller of two one-sided chances, of
        such high ranks (Mann-Whitney, normal approximation) and of so few events in the coolest
        quarter of the time (binomial).
    at_degc : float
        Median temperature at the events.
    cool_degc : float
        Temperature below which the unit ran a quarter of the time.
    cool : int
        Events in that coolest quarter.
    """

    p_hotter: float
    at_degc: float
    cool_degc: float
    cool: int


@dataclass(frozen=True, slots=True)
class Share:
    """How many starts of one kind failed of those that were tried."""

    kind: str
    failed: int
    tried: int


class Clues:
    """Everything that points somewhere, from one soak."""

    def __init__(self, course: Course) -> None:
        self.course = course

    @cached_property
    def events(self) -> Sequence[UnitFault]:
        """All events against the unit, in order of time."""
        return all_events(self.course)

    def of(self, *kinds: str) -> list[UnitFault]:
        """Return the events of some kinds."""
        return [event for event in self.events if event.kind in kinds]

    def failed_starts(self, *, of_supply: bool) -> list[UnitFault]:
        """Return the starts that failed: those with the supply set or broken, or all others."""
        own = {start.t_on for start in self.course.starts if start.check == _OF_SUPPLY}
        return [fault for fault in self.of("failed start") if (fault.from_s in own) == of_supply]

    def shares(
        self, failed: Sequence[UnitFault], kinds: Iterable[str], *, of_supply: bool = False
    ) -> list[Share]:
        """Return each kind of start that was tried, with how many of how many failed."""
        at = {fault.from_s for fault in failed}
        parts = []
        for kind in kinds:
            tried = [
                start.t_on
                for start in self.course.starts
                if start.kind == kind and (start.check == _OF_SUPPLY) == of_supply
            ]
            if tried:
                parts.append(Share(kind, sum(t_on in at for t_on in tried), len(tried)))
        return parts

    def together(self, one: UnitFault, others: Sequence[UnitFault]) -> bool:
        """Tell whether another event falls into the time of this one, or the other way round."""
        return any(
            other.from_s <= one.to_s + TOGETHER_S and one.from_s <= other.to_s + TOGETHER_S
            for other in others
        )

    @cached_property
    def hottest(self) -> tuple[str, Floats, Floats] | None:
        """Return source, times and temperatures of the probe that warms most; None without one."""
        wired = self.course.header.fixture.probes
        spots = [
            f"probe.{name}"
            for name, entry in wired.items()
            if entry.unit == "degC" and entry.spot not in ("", "ambient")
        ]
        read = [(name, *self.course.series(name)) for name in spots]
        read = [series for series in read if len(series[1]) >= _FEWEST]
        return max(read, key=lambda one: float(np.ptp(one[2])), default=None)

    def heat_at(self, events: Sequence[UnitFault], check: str = "") -> Ranked | None:
        """Rank the heat at events against the heat while they could have been seen.

        Parameters
        ----------
        check : str
            Only the stretches in which this check ran count; empty: all.

        References
        ----------
        Mann & Whitney 1947, On a test of whether one of two random variables is stochastically
        larger than the other, Annals of Mathematical Statistics 18, 50-60.
        """
        if self.hottest is None or len(events) < _FEWEST:
            return None
        _, t_s, degc = self.hottest
        spans = self._watched(check)
        watched = np.array([holds(float(t), spans) for t in t_s], dtype=bool)
        usual = degc[watched]
        if len(usual) < _FEWEST:
            return None
        at = np.interp([event.from_s for event in events], t_s, degc)
        below = np.searchsorted(np.sort(usual), at, side="left")
        level = np.searchsorted(np.sort(usual), at, side="right")
        u = float(np.sum((below + level) / 2))
        n = len(at)
        m = len(usual)
        spread = float(np.sqrt(n * m * (n + m + 1) / 12))
        p_ranks = float(ndtr(-(u - n * m / 2) / spread))
        cool_degc = float(np.quantile(usual, 0.25))
        cool = int(np.sum(at < cool_degc))
        p_cool = float(bdtr(cool, n, float(np.mean(usual < cool_degc))))
        p = min(1.0, 2 * min(p_ranks, p_cool))
        return Ranked(p, float(np.median(at)), cool_degc, cool)

    def _watched(self, check: str) -> list[Span]:
        ran = [
            window
            for stretch in self.course.header.script.stretches
            if not check or check in stretch.checks
            for window in self.course.windows(str(stretch.name))
        ]
        return common(ran, self.course.started) if check else self.course.started


def sudden_warming(t_s: Floats, degc: Floats, from_s: float, to_s: float) -> float | None:
    """Return when a steady unit began to warm anew, s; None if it never did.

    After half an hour with power a unit warms ever more slowly. A rise over ten minutes of 4 K or
    more that follows ten minutes of less than 1 K is something new, such as a fan that stopped
    (thresholds are our own choice).
    """
    inside = (t_s >= from_s + 1800) & (t_s <= to_s)
    times = t_s[inside]
    values = degc[inside]
    if len(times) < _FEWEST or times[-1] - times[0] < 1800:
        return None
    grid = np.arange(times[0], times[-1], 60.0)
    smooth = np.interp(grid, times, values)
    smooth = np.convolve(smooth, np.ones(5) / 5, mode="valid")
    before = smooth[10:-10] - smooth[:-20]
    after = smooth[20:] - smooth[10:-10]
    places = np.flatnonzero((np.abs(before) < 1.0) & (after >= 4.0))
    if not len(places):
        return None
    ends = np.flatnonzero(np.diff(places, append=places[-1] + 2) > 1)  # the last of the first run
    return float(grid[places[ends[0]] + 12])
