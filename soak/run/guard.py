"""The guard in the loop: owns the switch, follows the rules of `guard_step`, always ends off.

`soak` is not a safety device. This guard dies with its process; what it could not switch off it
says aloud.
"""

import math
from collections.abc import AsyncIterator, Mapping

import trio

from soak.clock import SoakClock
from soak.errors import BenchFault
from soak.records import BLIND, Mark, Observed, Reading, State
from soak.roles import Switch
from soak.run.guard_step import (
    GOOD_AGAIN_S,
    End,
    GuardEvent,
    Guarding,
    GuardState,
    Silent,
    Tick,
    Value,
    Wish,
    guard_step,
)

_RETRY_S = (1.0, 2.0, 5.0)


class LoopGuard:
    """Own one channel of the switch; implements `GuardLink`.

    Parameters
    ----------
    switch, channel
        What is owned.
    guarding : mapping of quantity name to Guarding
        The guarding probes; their quantity has the name of their source.
    """

    def __init__(
        self, switch: Switch, channel: str, guarding: Mapping[str, Guarding], clock: SoakClock
    ) -> None:
        self._switch, self._channel, self._clock = switch, channel, clock
        self._state = GuardState(guarding=guarding)
        self._lock = trio.Lock()
        self._closed = False
        self._told, self._tells = trio.open_memory_channel[GuardEvent](math.inf)
        self._out, self._events = trio.open_memory_channel[Observed](math.inf)

    async def command(self, channel: str, on: bool, why: str = "") -> Mark:
        if on and not self._state.allows_on:
            reason = self._state.latched or "a guarding probe is silent"
            raise BenchFault("switch", f"the guard holds the power off: {reason}")
        marks = await self._step(Wish(self._clock.now_s(), on, why))
        if not marks:
            raise BenchFault("switch", "the guard holds the power off")
        return marks[-1]

    def beat(self) -> None:
        """Say that the runner is alive; in the loop it is as alive as this guard."""

    def observe(self, record: Observed) -> None:
        """Take what guarding probes say."""
        guarding = self._state.guarding
        if isinstance(record, Reading) and record.quantity in guarding:
            self._told.send_nowait(Value(record.t_s, record.quantity, record.value))
        elif isinstance(record, State) and record.source in guarding and record.state == BLIND:
            self._told.send_nowait(Silent(self._clock.now_s(), record.source))

    async def events(self) -> AsyncIterator[Observed]:
        async for record in self._events:
            yield record

    async def rearm(self, channel: str, reason: str) -> None:
        await self._step(Tick(self._clock.now_s()))
        if not self._state.allows_on:
            raise BenchFault("switch", "the guard does not allow power again yet")

    async def watch(self) -> None:
        """Act on what the probes say, for as long as the soak runs."""
        async with trio.open_nursery() as nursery:
            nursery.start_soon(self._tick)
            async for event in self._tells:
                await self._step(event)

    async def end(self, why: str, give_up_s: float) -> bool:
        """Switch off for good; return whether the switch answered within `give_up_s`."""
        with trio.move_on_after(give_up_s):
            await self._step(End(self._clock.now_s(), why))
            return True
        return False

    def close(self) -> None:
        """Say nothing more, so that whoever follows `events` comes to an end."""
        self._out.close()
        self._closed = True

    def _say(self, record: Observed) -> None:
        if not self._closed:
            self._out.send_nowait(record)

    async def _tick(self) -> None:
        while True:
            await trio.sleep(GOOD_AGAIN_S / 4)
            if self._state.held:
                await self._step(Tick(self._clock.now_s()))

    async def _step(self, event: GuardEvent) -> list[Mark]:
        async with self._lock:
            self._state, orders = guard_step(self._state, event)
            carried = []
            for order in orders:
                if order.what == "power":
                    order = await self._carry(order)
                carried.append(order)
                self._say(order)
            return carried

    async def _carry(self, order: Mark) -> Mark:
        """Command the switch; off is tried for ever, on once."""
        on, why = bool(order.detail["on"]), str(order.detail["why"])
        for attempt in range(10**9):
            try:
                await self._switch.command(self._channel, on)
                break
            except BenchFault as fault:
                self._unanswered(on, why, fault, loud=attempt == 0)
                if on:
                    raise
            await trio.sleep(_RETRY_S[min(attempt, len(_RETRY_S) - 1)])
        detail = {"on": on, "channel": self._channel, "why": why}
        return Mark(self._clock.now_s(), "power", detail=detail)

    def _unanswered(self, on: bool, why: str, fault: BenchFault, loud: bool) -> None:
        now_s = self._clock.now_s()
        detail = {"on": on, "channel": self._channel, "why": f"{why}: {fault.what}"}
        if loud:
            self._say(Mark(now_s, "power unanswered", detail=detail))
        if loud and not on:
            alarm = f"the power could not be switched off ({fault.what}); switch it off by hand"
            self._say(Mark(now_s, "alarm", detail={"why": alarm}))
