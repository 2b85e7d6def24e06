"""The only way off the event loop: threads with a time limit, or none at all when time leaps."""

from collections.abc import Callable
from typing import Any, TypeVar

import trio

from soak.clock import SoakClock
from soak.quantities import show_duration
from soak.roles import OffLoop

T = TypeVar("T")

THREADS = 64
"""Most threads at a time; one that hangs in the kernel keeps its place until it returns."""


class ThreadOffLoop:
    """Run blocking work in threads; work over its limit is abandoned, never waited for.

    Threads are daemons, so one that hangs does not keep the program from ending. Work that can
    hang *inside the kernel* (a stalled stick) keeps even a killed process from ending: give it to
    a `Child` instead.

    Parameters
    ----------
    clock : SoakClock
        The clock trio runs on.
    threads : int
        Most threads at a time.
    """

    def __init__(self, clock: SoakClock, threads: int = THREADS) -> None:
        self._clock = clock
        self._limiter = trio.CapacityLimiter(threads)

    async def call(self, limit_s: float, work: Callable[..., T], *args: Any) -> T:
        """Run `work(*args)` in a thread for at most `limit_s` of soak time.

        Raises
        ------
        TimeoutError
            If it took longer.
        RuntimeError
            If the clock leaps: its time limits would fire at once.
        """
        if self._clock.leaping:
            raise _refusal(work)
        with trio.move_on_after(limit_s):
            return await trio.to_thread.run_sync(
                work, *args, abandon_on_cancel=True, limiter=self._limiter
            )
        raise TimeoutError(f"no answer within {show_duration(limit_s)}")


class LeapingOffLoop:
    """Refuse all work: what a simulated soak is given, so that nothing leaves the loop."""

    async def call(self, limit_s: float, work: Callable[..., T], *args: Any) -> T:
        """Refuse.

        Raises
        ------
        RuntimeError
            Always.
        """
        raise _refusal(work)


def off_loop_for(clock: SoakClock) -> OffLoop:
    """Return the way off the loop that fits the clock."""
    return LeapingOffLoop() if clock.leaping else ThreadOffLoop(clock)


def _refusal(work: Callable[..., Any]) -> RuntimeError:
    name = getattr(work, "__qualname__", repr(work))
    return RuntimeError(f"{name} would leave the event loop while the clock leaps")
