"""The stream's own rhythm: the usual time between pictures, and when a gap is a stall."""

from collections import deque

UNKNOWN_STALL_S = 3.0
"""Until the rhythm is known, only a gap this long is a stall. Our own choice."""
_ENOUGH = 4
"""From so many gaps between pictures the rhythm is known. Our own choice."""


class Cadence:
    """Learns the period of a stream from the times of its pictures.

    Parameters
    ----------
    stalled_after_s : float
        No shorter gap is a stall, s.
    stalled_periods : float
        Nor is one of fewer usual periods.
    """

    def __init__(self, stalled_after_s: float, stalled_periods: float) -> None:
        self._stalled_after_s = stalled_after_s
        self._stalled_periods = stalled_periods
        self._gaps_s: deque[float] = deque(maxlen=31)

    def learn(self, gap_s: float) -> None:
        """Take the time between two pictures, s."""
        self._gaps_s.append(gap_s)

    @property
    def period_s(self) -> float:
        """The usual time between pictures, s; 0 where it is not known."""
        if len(self._gaps_s) < _ENOUGH:
            return 0.0
        return sorted(self._gaps_s)[len(self._gaps_s) // 2]

    def is_stall(self, gap_s: float) -> bool:
        """Tell whether so long without a picture, s, is a stall."""
        if gap_s <= self._stalled_after_s:
            return False
        period_s = self.period_s
        limit_s = self._stalled_periods * period_s if period_s else UNKNOWN_STALL_S
        return gap_s > max(limit_s, self._stalled_after_s)
