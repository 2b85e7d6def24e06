"""Sleeping until moments that many sleep until: whoever comes first sleeps, the others wait.

A sleep of trio's is a scope that can be cancelled, and costs more than what most sleepers then do.
"""

from collections.abc import Callable

import trio


class Wakes:
    """Moments of soak time that somebody sleeps until."""

    def __init__(self) -> None:
        self._somebody: dict[float, trio.Event] = {}

    async def until(self, t_s: float, now_s: Callable[[], float]) -> None:
        """Return at `t_s`, s of soak time; one that sleeps for others may be cancelled."""
        while now_s() < t_s:
            if (over := self._somebody.get(t_s)) is not None:
                await over.wait()
                continue
            over = self._somebody[t_s] = trio.Event()
            try:
                await trio.sleep_until(t_s)
            finally:
                del self._somebody[t_s]
                over.set()
