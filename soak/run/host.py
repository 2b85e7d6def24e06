"""What the host does behind the soak's back: sleeping, standing still, and stepping its clock."""

import time
from collections.abc import Callable

import trio

from soak.clock import SoakClock
from soak.derive.spans import Span
from soak.marks import ClockStepped, HostSlept, StoodStill, mark_of
from soak.records import Mark

BEATS_EVERY_S = 0.05
"""The loop is woken so often to notice a standstill, s. Our own choice: half of what counts as
late."""
LATE_S = 0.1
"""Woken so much later than asked, nothing of the program ran, s. Own choice: a computer that is
only busy is late by less, and no check here tells shorter times apart."""
_TOLD_WITHIN_S = 1.0
"""Short standstills are told together. Our own choice."""
_LOOK_EVERY_S = 5.0
"""So often the host's clocks are compared, s. Our own choice."""
_WORTH_SAYING_S = 2.0
"""A sleep or a stepped clock of less is not told, s. Our own choice: clocks are set right by
fractions all the time."""


async def watch_host(
    clock: SoakClock, publish: Callable[[Mark], object], woke: Callable[[float], None]
) -> None:
    """Put suspends, standstills and wall-clock steps on record; `woke` gets a suspend's length, s.

    The monotonic clock stands still while the host sleeps and boot time does not; the wall clock
    is stepped by hand or by the network and boot time is not. Where the program was stopped, or
    starved, both clocks went on: that only its own heartbeat tells.
    """
    async with trio.open_nursery() as nursery:
        nursery.start_soon(_watch_clocks, clock, publish, woke)
        nursery.start_soon(_watch_heartbeat, clock, publish)


async def _watch_clocks(
    clock: SoakClock, publish: Callable[[Mark], object], woke: Callable[[float], None]
) -> None:
    asleep_s = _asleep_s(clock)
    wall_s = clock.utc().timestamp() - clock.now_s()
    while True:
        await trio.sleep(_LOOK_EVERY_S)
        slept_s = _asleep_s(clock) - asleep_s
        asleep_s = _asleep_s(clock)
        if slept_s > _WORTH_SAYING_S:
            publish(mark_of(clock.now_s(), HostSlept(for_s=round(slept_s, 1))))
            woke(slept_s)
        stepped_s, wall_s = _stepped(clock, wall_s)
        if abs(stepped_s) > _WORTH_SAYING_S:
            publish(mark_of(clock.now_s(), ClockStepped(by_s=round(stepped_s, 1))))


async def _watch_heartbeat(clock: SoakClock, publish: Callable[[Mark], object]) -> None:
    last_s = clock.now_s()
    still: list[Span] = []
    while True:
        await trio.sleep(BEATS_EVERY_S)
        now_s = clock.now_s()
        if now_s - last_s > BEATS_EVERY_S + LATE_S:
            still.append((round(last_s, 3), round(now_s, 3)))
        last_s = now_s
        if still and (now_s - still[0][0] > _TOLD_WITHIN_S):
            for_s = round(sum(to_s - from_s for from_s, to_s in still), 3)
            spans = [list(span) for span in still]
            publish(mark_of(now_s, StoodStill(for_s=for_s, spans=spans)))
            still.clear()


def _asleep_s(clock: SoakClock) -> float:
    return clock.now_s() - time.monotonic()


def _stepped(clock: SoakClock, wall_s: float) -> tuple[float, float]:
    now_s = clock.utc().timestamp() - clock.now_s()
    return now_s - wall_s, now_s
