"""Frame accounts: how many pictures a stream has lost and repeated, by their timestamps.

At 60000/1001 pictures a second a count at 60 would be 1726 pictures off after 8 h, so the period is
the stream's own, followed as long as it runs.
"""

from fractions import Fraction
from statistics import median

NOMINAL_HZ = tuple(
    map(
        Fraction,
        ("24000/1001", "24", "25", "30000/1001", "30", "50", "60000/1001", "60", "100", "120"),
    )
)
"""Picture rates of CTA-861 (with the 1000/1001 members of its 24, 30 and 60 Hz families)."""
NEAR_NOMINAL = 3e-4
"""A stream's rate is a nominal one within this share: clocks differ by 1e-4 at most, 60 and
60000/1001 by 1e-3. Own choice."""

LEARNED_FROM = 30
"""So many gaps give the first period. Own choice."""
FOLLOWS_TIME, FOLLOWS_PERIOD = 0.05, 0.0005
"""Share of each error that goes into the time expected next and into the period. Own choice:
slow against jitter."""


def nominal_rate(rate_hz: float) -> Fraction | None:
    """Return the nominal rate, pictures a second, that a measured one is; None if it is none."""
    near = min(NOMINAL_HZ, key=lambda nominal: abs(rate_hz - nominal))
    return near if abs(rate_hz - near) <= NEAR_NOMINAL * near else None


class FrameAccounts:
    """Counts lost and repeated pictures.

    Attributes
    ----------
    lost, repeated : int
        In all so far.
    period_s : float
        Time between two pictures, s; 0 until it is known.
    """

    def __init__(self) -> None:
        self.lost = self.repeated = 0
        self.period_s = 0.0
        self._gaps_s: list[float] = []
        self._last_s: float | None = None
        self._due_s: float | None = None

    def interrupt(self) -> None:
        """Begin anew with the next picture: what is missing before it is a stall of its own."""
        self._last_s = self._due_s = None

    def see(self, t_s: float, repeats: bool) -> None:
        """Take one picture at `t_s` that may repeat the one before."""
        self.repeated += repeats
        if self._last_s is not None:
            if self.period_s:
                self._follow(t_s)
            else:
                self._learn(t_s - self._last_s)
        self._last_s = t_s

    def _learn(self, gap_s: float) -> None:
        self._gaps_s.append(gap_s)
        if len(self._gaps_s) >= LEARNED_FROM:
            usual_s = median(self._gaps_s)
            near = [gap for gap in self._gaps_s if abs(gap - usual_s) < 0.3 * usual_s]
            self.period_s = sum(near) / len(near) if near else usual_s
            self._gaps_s.clear()

    def _follow(self, t_s: float) -> None:
        """Compare with the time at which a picture is due; whole periods between are lost."""
        if self._due_s is None:
            self._due_s = t_s + self.period_s
            return
        late_s = t_s - self._due_s
        missed = round(late_s / self.period_s)
        self.lost = max(0, self.lost + missed)  # one that came early was not lost before
        error_s = late_s - missed * self.period_s
        self.period_s += FOLLOWS_PERIOD * error_s
        self._due_s += (missed + 1) * self.period_s + FOLLOWS_TIME * error_s
