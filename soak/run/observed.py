"""Observed time of a running stretch: it goes on until the judge's own rule is content."""

import time
from collections.abc import Sequence

import trio

from soak.clock import SoakClock
from soak.derive.course import course_of
from soak.derive.seeing.observed import observed_s
from soak.records import State
from soak.run.hub import Hub
from soak.run.so_far import SoFar
from soak.states import UNSEEN

_RESTS = 100.0
"""So many times as long as a look took nobody looks again: at most 1 % of a core. Our own
choice."""


class ObservedTime:
    """Ask how much of a stretch was observed, by what the soak has recorded so far.

    Parameters
    ----------
    sources : sequence of str
        What its checks look at.
    powered : bool
        Whether they need the unit's power.
    """

    def __init__(
        self,
        stretch: str,
        sources: Sequence[str],
        so_far: SoFar,
        hub: Hub,
        clock: SoakClock,
        *,
        powered: bool = True,
    ) -> None:
        self._stretch = stretch
        self._sources = sources
        self._so_far = so_far
        self._powered = powered
        self._hub = hub
        self._clock = clock
        self._changed = trio.Event()
        self._rests_s = 0.0

    def notice(self, state: State) -> None:
        """Take that a source changed: whoever waits for it to be seen again looks."""
        if state.source in self._sources:
            self._changed.set()
            self._changed = trio.Event()

    def total_s(self) -> float:
        """Return the observed time so far, all sessions together, s."""
        began_s = time.perf_counter()
        course = course_of(self._so_far.up_to(self._clock.now_s()))
        total_s = observed_s(course, self._stretch, self._sources, powered=self._powered)
        # Simulated time must not hang on how quick this computer is.
        took_s = 0.0 if self._clock.leaping else time.perf_counter() - began_s
        self._rests_s = _RESTS * took_s
        return total_s

    async def reached(self, lasts_s: float) -> None:
        """Return when `lasts_s` have been observed."""
        left_s = lasts_s
        while left_s > 0 and (left_s := lasts_s - self.total_s()) > 1e-6:
            changed = self._changed
            if any(self._is_blind(source) for source in self._sources):
                await changed.wait()
            else:
                await trio.sleep(max(left_s, self._rests_s))

    def _is_blind(self, source: str) -> bool:
        state = self._hub.state(source)
        return state is None or state.state in UNSEEN
