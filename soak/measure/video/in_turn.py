"""A card that keeps its last few pictures and shows them in turn, which is no motion.

Byte for byte the intake sees it. Behind a noisy path no two packets are alike; there a picture is
the same but for noise as the one two, three or four before it, and another than the one before.
"""

from collections import deque

import cv2

from soak.measure.video.intake import KEPT_IN_TURN, Arrived
from soak.measure.video.picture import Held
from soak.measure.video.stillness import Change, change_of, most_noise, surely_moved

KEPT_FOR_S = 0.45
"""Pictures in turn for so long are frozen, s, however long the content may stand: what stands does
not go to and fro from picture to picture. Own choice: the shortest freeze that is said."""
KEPT_FOR_PICTURES = 8
"""And for so many pictures. Own choice: twice round of the longest turn."""
APART_TIMES, APART_LUMA = 2.0, 0.5
"""The largest local change to the picture before is so many times that to the one a turn before,
and so many luma levels more. Own choice: cells of 56 places of normal noise stay within 1.4."""
NEARER = 1.02
"""A picture a turn before is no farther than so many times the picture just before, by their mean
change. Own choice: motion leads away, noise leaves 1.01 between two pairs."""


_SHORTEST = 2
"""The shortest turn, pictures. By definition: what comes again at once stands."""


class InTurn:
    """Follows the judged pictures and says since when they come in turn."""

    def __init__(self) -> None:
        self._kept: deque[Arrived] = deque(maxlen=KEPT_IN_TURN)
        self.rest()

    def rest(self) -> None:
        """Forget the turn in progress."""
        self._kept.clear()
        self._end()

    def _end(self) -> None:
        self._turn = 0
        self._since: tuple[float, float] | None = None
        self._pictures = self._stood = 0

    @property
    def goes_on(self) -> bool:
        """Whether the last pictures came in turn, so that where that ends matters."""
        return self._turn > 0

    def see(self, arrived: Arrived) -> tuple[float, float] | None:
        """Take the next picture; return (t_s, within_s) of the first that came again, if frozen."""
        since = self._by_looks(arrived)
        packets = arrived.in_turn
        return packets if packets and _lasts(arrived.t_s, packets) else since

    def _by_looks(self, arrived: Arrived) -> tuple[float, float] | None:
        kept = self._kept
        if kept and arrived.t_s - kept[-1].t_s > 1.5 * arrived.gap_s:
            self.rest()  # pictures were passed over in between
        turn = (
            self._begins(arrived.held)
            if not self._turn
            else self._turn * self._goes_on(arrived.held)
        )
        kept.append(arrived)
        if not turn:
            self._end()
            return None
        self._turn = turn
        self._since = self._since or (arrived.t_s, arrived.gap_s)
        self._pictures += 1
        lasts = self._pictures >= KEPT_FOR_PICTURES and _lasts(arrived.t_s, self._since)
        return self._since if lasts else None

    def _begins(self, now: Held) -> int:
        """Return after how many pictures this one came again; 0 if it stands, or moves on."""
        kept = self._kept
        if len(kept) < _SHORTEST or now is kept[-1].held:
            return 0
        alike = [
            turn
            for turn in range(_SHORTEST, len(kept) + 1)
            if not surely_moved(now, kept[-turn].held)
        ]
        if not alike:
            return 0  # as nearly always, and soon seen
        apart = _change(now, kept[-1].held)
        most = float("inf") if apart is None else float(apart.local.max())
        most_again = (most - APART_LUMA) / APART_TIMES
        for turn in alike:
            again = kept[-turn].held
            if _mean_change(now, again) > NEARER * _mean_change(now, kept[-1].held):
                continue
            same = _is_same(now, again)
            if same is not None and float(same.local.max()) <= most_again:
                return turn
        return 0

    def _goes_on(self, now: Held) -> bool:
        """Tell whether a picture is that of a turn before, and not merely one that stands."""
        before = self._kept[-1].held
        again = self._kept[-self._turn].held
        if now is before or _mean_change(now, again) > NEARER * _mean_change(now, before):
            # Two of a turn may be alike; all of them are not.
            self._stood += 1
            return self._stood < self._turn and _is_same(now, again) is not None
        same = _is_same(now, again)
        if same is None:
            return False
        apart = _change(now, before)
        stands = APART_TIMES * float(same.local.max()) + APART_LUMA
        self._stood = 0 if apart is None or float(apart.local.max()) >= stands else self._stood + 1
        return self._stood < self._turn


def _lasts(t_s: float, since: tuple[float, float]) -> bool:
    return t_s - since[0] >= KEPT_FOR_S


def _is_same(now: Held, again: Held) -> Change | None:
    """Return how a picture differs from another if that may be noise; None if it is another."""
    change = _change(now, again)
    most = most_noise(now.form, now.size[1])
    return change if change is not None and change.may_be_noise(most) else None


def _change(now: Held, before: Held) -> Change | None:
    one = now.grey()
    other = before.grey()
    return None if one is None or other is None else change_of(one, other)


def _mean_change(now: Held, before: Held) -> float:
    """Return the mean absolute change, luma levels; endless where sizes differ."""
    one = now.grey()
    other = before.grey()
    if one is None or other is None or one.shape != other.shape:
        return float("inf")
    return float(cv2.norm(one, other, cv2.NORM_L1)) / one.size
