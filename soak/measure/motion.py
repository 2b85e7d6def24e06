"""Whether a moving picture stands still: repeats, the noise of the stream, its usual cadence."""

from collections import deque
from collections.abc import Sequence

import cv2
import numpy as np

from soak.measure.picture import Grey, Held

USUAL_RUNS = 4.0
"""So many times the usual run without a change is a freeze. Own choice."""
RARE_S, RARE_RUNS = 0.5, 15.0
"""Where only a clock ticks, noise hides a tick now and then: more runs must have gone by. Own
choice."""
LEARNING_S, LEARNING_RUNS, LEARNING_FROZEN_S = 1.5, 12, 3.0
"""As long as less of the stream is known than either, a freeze must last the third, s."""
AWAY_S, MOVED_S = 2.0, 5.0
"""A picture that was away for the first has begun anew: until it has moved for the second, s, it
may be a logo. Own choice: no unit restarts in less than 2 s."""
WINDOW_S, USUAL_SHARE = 60.0, 0.6
"""The usual run: 60 % of the last minute went by in runs no longer than it. A share of time, so
that a clock ticking once a second is usual and a few freezes are not."""
NOISE_CAP = 6.0
"""Mean change in luma levels above which nothing is called noise. Own choice."""
FLOOR_MARGIN, FLOOR_STEP = 1.5, 0.1
LOCAL_RATIO, LOCAL_STEP = 3.5, 1.2
SHIFT_RATIO, SHIFT_STEP = 1.5, 0.8
COHERENT_RATIO = 0.6
"""Noise lies evenly and averages out within a cell; motion is local, or moves a cell as a whole.
Set on noise of sigma 1 to 4 under JPEG quality 60 to 95 over stills of three clips: their largest
local change stayed below 3.2 times the middle one plus 1, their largest shift of a cell's mean
below 2.5; moving pictures of the same clips began at 4."""
STRIPES_FROM, STRIPES = 1.0, 0.45
"""From a mean change of the first, luma levels, rows differ by no more than this share of it.
Noise of sigma 1 to 3 over stills of three contents stayed below 0.25, dim scrolling text under
noise began at 0.59."""
NO_NOISE_LUMA = 0.02
_LEARN_EVERY, _LEARN_SHARE, _LEARN_FROM = 64, 0.05, 8
UNKNOWN_FLOOR = 1.5
"""Luma levels taken for the floor until it is learned; wild motion teaches nothing. Own choice."""


class NoiseFloor:
    """The change between pictures that the stream's own noise makes, learned from the stream."""

    def __init__(self) -> None:
        self._seen: deque[float] = deque(maxlen=1024)
        self._fresh = 0
        self.luma = UNKNOWN_FLOOR

    def learn(self, change: float) -> None:
        """Take the typical local change between two pictures, in luma levels."""
        self._seen.append(change)
        self._fresh += 1
        if self._fresh >= _LEARN_EVERY or len(self._seen) < _LEARN_EVERY:
            self._fresh = 0
            if len(self._seen) >= _LEARN_FROM:
                self.luma = min(float(np.quantile(self._seen, _LEARN_SHARE)), NOISE_CAP)

    def is_repeat(self, one: Grey, other: Grey, learn: bool = True) -> bool:
        """Tell whether two pictures differ by no more than noise, and `learn` from them."""
        if one.shape != other.shape:
            return False
        if cv2.norm(one, other, cv2.NORM_L1) > 2 * NOISE_CAP * one.size:
            return False
        cells = (32, 18) if one.shape[1] >= 160 else (16, 9)
        signed = cv2.subtract(one, other, dtype=cv2.CV_32F)
        local = cv2.resize(np.abs(signed), cells, interpolation=cv2.INTER_AREA)
        middle = _middle(local)
        if learn:
            self.learn(middle)
        if middle > FLOOR_MARGIN * self.luma + FLOOR_STEP:
            return False
        if float(local.max()) > LOCAL_RATIO * middle + LOCAL_STEP:
            return False
        if not _lies_evenly(np.abs(signed)):
            return False
        whole = cv2.resize(signed, cells, interpolation=cv2.INTER_AREA)
        shifts = np.abs(whole)
        if float(shifts.max()) > SHIFT_RATIO * middle + SHIFT_STEP:
            return False
        return _middle(shifts) <= COHERENT_RATIO * middle + FLOOR_STEP


def _lies_evenly(change: np.ndarray) -> bool:
    """Tell whether the change is spread over the rows as noise is; lines of text are not."""
    rows = change.mean(axis=1)
    rows = rows[rows > NO_NOISE_LUMA]  # black bars have none
    if not rows.size or float(rows.mean()) < STRIPES_FROM:
        return True
    return float(rows.std()) <= STRIPES * float(rows.mean())


def _middle(cells: np.ndarray) -> float:
    flat = cells.ravel()
    half = flat.size // 2
    return float(np.partition(flat, half)[half])


class Motion:
    """Follows runs of repeated pictures and says since when a picture is frozen.

    Each picture is compared with the first of its run, not with the one before, so that slow
    motion adds up.

    Parameters
    ----------
    frozen_after_s : float
        Shortest freeze that is said, s; more where the stream repeats as a matter of course.
    still_at_start_s : float
        Shortest freeze of a picture that has not moved since it appeared, s.
    """

    def __init__(self, frozen_after_s: float, still_at_start_s: float = 0.0) -> None:
        self._frozen_after_s, self._still_at_start_s = frozen_after_s, still_at_start_s
        self._moved_s = 0.0
        self._last_s: float | None = None
        self.floor = NoiseFloor()
        self._runs: deque[tuple[float, float, float]] = deque(maxlen=4096)
        self._known_s = 0.0
        self._first: Held | None = None
        self._first_s = self._first_gap_s = 0.0
        self._repeat: tuple[float, float] | None = None

    def rest(self) -> None:
        """Forget the run in progress: the picture was gone in between."""
        self._first, self._repeat = None, None

    def see(self, t_s: float, gap_s: float, held: Held) -> tuple[float, float] | None:
        """Take the next picture; return (t_s, within_s) of the first repeat if it is frozen."""
        if self._first is None and self._last_s is not None and t_s - self._last_s >= AWAY_S:
            self._moved_s = 0.0
        self._last_s = t_s
        if self._first is None or not self._same(held, self._first, learn=True):
            if self._first is not None:
                lasted_s = t_s - self._first_s
                # Pictures in between may have been passed over: without a repeat, no run is known.
                run_s = lasted_s if self._repeat is not None else min(lasted_s, gap_s)
                self._runs.append((t_s, run_s, lasted_s))
                self._known_s += lasted_s
                self._moved_s += min(lasted_s, 1.0)
            self._first, self._repeat = held, None
            self._first_s, self._first_gap_s = t_s, gap_s
            return None
        if self._repeat is None:
            self._repeat = (t_s, gap_s)
        run_s = t_s - self._first_s
        if run_s < self._frozen_after_s or run_s < self._needed_s(t_s):
            return None
        return self._repeat

    def usual_run_s(self, t_s: float) -> float:
        """Return the run that is usual in this stream, s; 0 where nothing is known."""
        runs = sorted(
            (run_s, took_s) for end_s, run_s, took_s in self._runs if end_s > t_s - WINDOW_S
        )
        runs = runs[:-1] or runs  # the longest by itself is no habit: it may be a freeze
        reach = USUAL_SHARE * sum(took_s for _, took_s in runs)
        for run_s, took_s in runs:
            reach -= took_s
            if reach <= 0:
                return run_s
        return 0.0

    def reach_back(self, before: Sequence[tuple[float, float, Held]]) -> None:
        """Let the run begin earlier: with the last of `before` (t_s, gap_s, picture) that match.

        They were passed over and come directly before the run's first picture.
        """
        first = self._first
        if first is None or self._repeat is not None:
            return
        for t_s, gap_s, held in reversed(before):
            if not self._same(held, first, learn=False):
                break
            self._repeat = (self._first_s, self._first_gap_s)
            self._first_s, self._first_gap_s = t_s, gap_s

    def runs_long(self, t_s: float) -> bool:
        """Tell whether the run in progress is so long that its very end matters."""
        run_s = t_s - self._first_s
        return self._repeat is not None and run_s > 0.4 * self._frozen_after_s

    def is_repeat_of_run(self, held: Held) -> bool:
        """Tell whether the picture continues the run in progress."""
        return self._first is not None and self._same(held, self._first, learn=False)

    def _same(self, held: Held, first: Held, learn: bool) -> bool:
        if held is first:
            return True
        one, other = held.grey(), first.grey()
        return one is not None and other is not None and self.floor.is_repeat(one, other, learn)

    def _needed_s(self, t_s: float) -> float:
        usual_s = self.usual_run_s(t_s)
        needed_s = (USUAL_RUNS if usual_s < RARE_S else RARE_RUNS) * usual_s
        if self._moved_s < MOVED_S:
            needed_s = max(needed_s, self._still_at_start_s)
        if self._known_s < LEARNING_S and len(self._runs) < LEARNING_RUNS:
            needed_s = max(needed_s, LEARNING_FROZEN_S)
        return needed_s
