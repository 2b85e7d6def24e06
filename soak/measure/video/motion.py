"""Whether a moving picture stands still: repeats, the noise of the stream, its usual cadence."""

from collections import deque
from collections.abc import Sequence

import numpy as np

from soak.measure.video.picture import Held
from soak.measure.video.stillness import Change, RunNoise, change_of, most_noise, surely_moved

USUAL_RUNS = 4.0
"""So many times the usual run without a change is a freeze. Own choice."""
RARE_S, RARE_RUNS = 0.5, 15.0
"""Where only a clock ticks, noise hides a tick now and then: more runs must have gone by. Own
choice."""
FROZEN_AFTER_S = 0.45
"""Shortest freeze that is said, s; a longer one is said where it was told how long the content may
stand. Our own choice."""
TOLD_RUNS = 3.0
"""Where it was told, so many of the usual runs under noise are a freeze, and without noise any run
longer than told. Own choice: noise may hide two ticks of a clock, and hides nothing else."""
LEARNING_S, LEARNING_RUNS, LEARNING_FROZEN_S = 1.0, 12, 3.0
"""As long as less of the stream is known than either, a freeze must last the third, s. Our own
choice."""
AWAY_S, MOVED_S = 2.0, 5.0
"""A picture that was away for the first has begun anew: until it has moved for the second, s, it
may be a logo. Own choice: no unit restarts in less than 2 s."""
WINDOW_S, USUAL_SHARE = 60.0, 0.6
"""The usual run: 60 % of the last minute went by in runs no longer than it. A share of time, so
that a clock ticking once a second is usual and a few freezes are not. Our own choice."""
SETTLED_PICTURES = 8
"""So many changes within a run tell its noise well enough; then one picture in eight is looked at.
Own choice."""
_LEARN_EVERY, _LEARN_FROM = 64, 8
"""The usual run is taken anew after so many runs, first after so many. Our own choice."""


class NoiseFloor:
    """The change between pictures that the stream's own noise makes, learned from its repeats.

    Attributes
    ----------
    luma : float
        Median over the repeats of the last hours, luma levels; 0 until there are some.
    """

    def __init__(self) -> None:
        self._seen: deque[float] = deque(maxlen=1024)
        self._fresh = 0
        self.luma = 0.0

    def learn(self, change: float) -> None:
        """Take the typical local change between two pictures, in luma levels."""
        self._seen.append(change)
        self._fresh += 1
        if self._fresh >= _LEARN_EVERY or len(self._seen) == _LEARN_FROM:
            self._fresh = 0
            self.luma = float(np.median(self._seen))


class Motion:
    """Follows runs of repeated pictures and says since when a picture is frozen.

    Each picture is compared with the first of its run, so that slow motion adds up, and with the
    one before, which tells the noise.

    Parameters
    ----------
    frozen_after_s : float
        Shortest freeze that is said, s; more where the stream repeats as a matter of course.
    still_at_start_s : float
        Shortest freeze of a picture that has not moved since it appeared, s.
    """

    def __init__(self, frozen_after_s: float, still_at_start_s: float = 0.0) -> None:
        self._frozen_after_s = frozen_after_s
        self._still_at_start_s = still_at_start_s
        self._is_told = frozen_after_s > FROZEN_AFTER_S
        self._moved_s = 0.0
        self._last_s: float | None = None
        self.floor = NoiseFloor()
        self._runs: deque[tuple[float, float, float]] = deque(maxlen=4096)
        self._known_s = self._longest_s = 0.0
        self._first: Held | None = None
        self._last: Held | None = None
        self._noise = RunNoise()
        self._is_exact = True
        self._first_s = self._first_gap_s = self._repeated_s = 0.0
        self._repeat: tuple[float, float] | None = None

    @property
    def longest_s(self) -> float:
        """The longest run of repeats so far, the one in progress too, s."""
        running_s = 0.0 if self._first is None else self._repeated_s - self._first_s
        return max(self._longest_s, running_s)

    def rest(self) -> None:
        """Forget the run in progress: the picture was gone in between."""
        self._longest_s = self.longest_s
        self._first = None
        self._repeat = None

    def see(self, t_s: float, gap_s: float, held: Held) -> tuple[float, float] | None:
        """Take the next picture; return (t_s, within_s) of the first repeat if it is frozen."""
        if self._first is None and self._last_s is not None and t_s - self._last_s >= AWAY_S:
            self._moved_s = 0.0
        self._last_s = t_s
        if self._first is None or not self._repeats(held):
            self._begin(t_s, gap_s, held)
            return None
        self._take(t_s, held)
        if self._repeat is None:
            self._repeat = (t_s, gap_s)
        run_s = t_s - self._first_s
        if run_s < self._frozen_after_s or run_s < self._needed_s(t_s):
            return None
        return self._repeat

    def _begin(self, t_s: float, gap_s: float, held: Held) -> None:
        """Begin a run; what the one before was like is known now."""
        if self._first is not None:
            lasted_s = t_s - self._first_s
            # Pictures since its last repeat may have been passed over: it lasted so long at least.
            run_s = min(lasted_s, self._repeated_s - self._first_s + gap_s)
            self._runs.append((t_s, run_s, lasted_s))
            self._longest_s = max(self._longest_s, run_s)
            self._known_s += lasted_s
            self._moved_s += min(lasted_s, 1.0)
        self._first = held
        self._last = held
        self._repeated_s = t_s
        self._repeat = None
        self._is_exact = True
        self._noise = RunNoise()
        self._first_s = t_s
        self._first_gap_s = gap_s

    def _take(self, t_s: float, held: Held) -> None:
        """Take a repeat: what it adds to the one before is noise."""
        if held is not self._last and self._last is not None:
            change = _change(held, self._last)
            if change is not None:
                self._noise.add(change)
                if self.is_settled:
                    self.floor.learn(change.middle)
        self._is_exact = self._is_exact and held is self._first
        self._last = held
        self._repeated_s = t_s

    def usual_run_s(self, t_s: float) -> float:
        """Return the run that is usual in this stream, s; 0 where nothing is known."""
        runs = sorted(
            (run_s, took_s) for end_s, run_s, took_s in self._runs if end_s > t_s - WINDOW_S
        )
        if len(runs) > LEARNING_RUNS:
            del runs[-1]  # the longest by itself is no habit: it may be a freeze
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
            if not self._repeats(held):
                break
            self._repeat = (self._first_s, self._first_gap_s)
            self._first_s = t_s
            self._first_gap_s = gap_s

    def runs_long(self, t_s: float) -> bool:
        """Tell whether the run in progress is so long that its very end matters."""
        run_s = t_s - self._first_s
        return self._repeat is not None and run_s > 0.4 * self._frozen_after_s

    @property
    def is_settled(self) -> bool:
        """Whether the run's beginning and noise are known: what lies between repeats repeats."""
        return self._repeat is not None and self._noise.number >= SETTLED_PICTURES

    def is_repeat_of_run(self, held: Held) -> bool:
        """Tell whether the picture continues the run in progress."""
        return self._first is not None and self._repeats(held)

    def _repeats(self, held: Held) -> bool:
        first = self._first
        if held is first:
            return True
        change = None if first is None or surely_moved(held, first) else _change(held, first)
        if change is None or not change.may_be_noise(most_noise(held.form, held.size[1])):
            return False
        return self._noise.explains(change)

    def _needed_s(self, t_s: float) -> float:
        usual_s = self.usual_run_s(t_s)
        if self._is_told:
            needed_s = 0.0 if self._is_exact else TOLD_RUNS * usual_s
        else:
            needed_s = (USUAL_RUNS if usual_s < RARE_S else RARE_RUNS) * usual_s
        if self._moved_s < MOVED_S:
            needed_s = max(needed_s, self._still_at_start_s)
        if self._known_s < LEARNING_S and len(self._runs) < LEARNING_RUNS:
            needed_s = max(needed_s, LEARNING_FROZEN_S)
        return needed_s


def _change(one: Held, other: Held) -> Change | None:
    if one.size != other.size:
        return None
    grey = one.grey()
    before = other.grey()
    return None if grey is None or before is None else change_of(grey, before)
