"""Which losses belong to one bout: faults placed in the time watched, over the soaks of a job.

What nobody saw, and what was lost, is taken out: only where a good state is seen can it be lost.
The statistics are in `soak/statistics/bouts.py`.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from soak.derive.spans import Span, common, minus, total_s
from soak.statistics.bouts import Bouts, by_gap, fewest_bouts, most_bouts

RESOLUTION_S = 1.0
"""Gaps are told no finer than this: losses closer than `episode_gap_s` are one anyway. Our own
choice."""


@dataclass(frozen=True, slots=True)
class Seen:
    """Faults in the time in which they could be seen.

    Attributes
    ----------
    times_s : sequence of float
        Time watched before each fault, in order, s.
    watched_s : float
        Time watched in all, s.
    """

    times_s: Sequence[float]
    watched_s: float

    def most(self) -> Bouts:
        """Count as many bouts as there may be; times in s."""
        return most_bouts(self.times_s, self.watched_s, RESOLUTION_S)

    def fewest(self) -> Bouts:
        """Count as few bouts as there may be; times in s."""
        return fewest_bouts(self.times_s, self.watched_s, RESOLUTION_S)

    def parted_by(self, gap_s: float) -> "Seen":
        """Return the bouts in live time, by a gap that was fixed before."""
        begins: list[float] = []
        live_s = 0.0
        last_s = None
        for t_s in self.times_s:
            gained_s = t_s if last_s is None else max(0.0, t_s - last_s - gap_s)
            live_s += gained_s
            if gained_s > 0 or last_s is None:
                begins.append(live_s)
            last_s = t_s
        return Seen(begins, by_gap(self.times_s, self.watched_s, gap_s).live)


def placed(soaks: Iterable[tuple[Sequence[Span], Sequence[Span]]]) -> Seen:
    """Place faults in the time watched.

    Parameters
    ----------
    soaks : iterable of (spans, faults)
        Of each soak, in order of time: when it was watched, and from when to when each fault
        lasted, s of its own soak time.
    """
    times_s: list[float] = []
    before_s = 0.0
    for watched, faults in soaks:
        good = minus(watched, [(from_s, to_s) for from_s, to_s in faults if to_s > from_s])
        for from_s, _ in sorted(faults):
            times_s.append(before_s + total_s(common(good, [(float("-inf"), from_s)])))
        before_s += total_s(good)
    return Seen(times_s, before_s)
