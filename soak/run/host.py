"""What the host does behind the soak's back: sleeping, and stepping its clock."""

import time
from collections.abc import Callable

import trio

from soak.clock import SoakClock
from soak.records import Mark

_LOOK_EVERY_S = 5.0
_WORTH_SAYING_S = 2.0


async def watch_host(
    clock: SoakClock, publish: Callable[[Mark], object], woke: Callable[[float], None]
) -> None:
    """Put suspends and wall-clock steps on record; call `woke` with the length of a suspend in s.

    The monotonic clock stands still while the host sleeps and boot time does not; the wall clock
    is stepped by hand or by the network and boot time is not.
    """
    asleep_s = _asleep_s(clock)
    wall_s = clock.utc().timestamp() - clock.now_s()
    while True:
        await trio.sleep(_LOOK_EVERY_S)
        slept_s, asleep_s = _asleep_s(clock) - asleep_s, _asleep_s(clock)
        if slept_s > _WORTH_SAYING_S:
            publish(Mark(clock.now_s(), "host slept", detail={"for_s": round(slept_s, 1)}))
            woke(slept_s)
        stepped_s, wall_s = _stepped(clock, wall_s)
        if abs(stepped_s) > _WORTH_SAYING_S:
            publish(Mark(clock.now_s(), "clock stepped", detail={"by_s": round(stepped_s, 1)}))


def _asleep_s(clock: SoakClock) -> float:
    return clock.now_s() - time.monotonic()


def _stepped(clock: SoakClock, wall_s: float) -> tuple[float, float]:
    now_s = clock.utc().timestamp() - clock.now_s()
    return now_s - wall_s, now_s
