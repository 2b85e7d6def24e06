"""The runner's hand on the power: asks the guard, waits while it holds, says what it could not."""

from collections.abc import Awaitable, Callable
from contextlib import aclosing
from typing import Any, cast

import trio

from soak.clock import SoakClock
from soak.errors import BenchFault
from soak.marks import (
    Alarm,
    BenchFaulted,
    FellSilent,
    PowerChanged,
    Rearmed,
    StateSaid,
    Tripped,
    fact_of,
    mark_of,
    state_of,
)
from soak.records import Mark
from soak.roles import GuardLink
from soak.run.hub import Hub
from soak.run.lost import TRY_AGAIN_S
from soak.states import BLIND
from soak.words import NOTHING_SAID, Amount, Message, just, msg

WAITS_FOR_OFF_S = 600.0
"""So long a soak waits for a switch that does not answer an off, and then ends, s. Our own choice:
an adapter comes back in seconds, and what has stopped for longer needs a person."""


class Power:
    """The unit's power as the runner sees it.

    Parameters
    ----------
    guard : GuardLink or None
        None where no switch is wired: then the operator switches by hand, and `set` says so.
    stop : callable
        Ends the soak: (ended, why).
    """

    def __init__(
        self,
        guard: GuardLink | None,
        channel: str,
        hub: Hub,
        clock: SoakClock,
        stop: Callable[[str, str], None],
    ) -> None:
        self._guard = guard
        self._channel = channel
        self._hub = hub
        self._clock = clock
        self._stop = stop
        self._free = trio.Event()
        self._free.set()
        self._off_answered = trio.Event()
        self.guard_done = trio.Event()
        self.wished = False
        self._wish = object()
        self._silent = ""
        self.is_on = False
        self.wake: Callable[[str], Awaitable[object]] | None = None
        """What starts a unit that stays off when power comes back; the soak sets it."""

    @property
    def wired(self) -> bool:
        """Whether there is a switch."""
        return self._guard is not None

    async def set(self, on: bool, why: str) -> Mark:
        """Command the power and return the switch's answer, however long that takes."""
        self.wished = on
        self._wish = object()
        mark = await self._while_wished(on, why, None)
        assert mark is not None
        return mark

    async def _while_wished(self, on: bool, why: str, wish: object | None) -> Mark | None:
        """Command until the switch answers; None once another wish came after `wish`."""
        guard = self._needed()
        blind = False
        while wish in (None, self._wish):
            if on:
                await self._free.wait()
            try:
                mark = await guard.command(self._channel, on, why)
            except BenchFault as fault:
                if not blind:
                    self._say(BLIND, fault.what)
                    lost = BenchFaulted(instrument="switch", what=fault.what)
                    self._hub.publish(mark_of(self._clock.now_s(), lost))
                blind = True
                await trio.sleep(TRY_AGAIN_S)
                continue
            if blind:
                self._say("seen")
            return mark
        return None

    async def set_voltage(self, volt: float, why: str) -> Mark:
        """Set the supply's voltage for the next start, once the guard allows power.

        Raises
        ------
        BenchFault
            As `GuardLink.set_voltage`.
        """
        await self._free.wait()
        return await self._needed().set_voltage(self._channel, volt, why)

    async def interrupt(self, for_s: float, why: str) -> Mark:
        """Break the power for a moment.

        Raises
        ------
        BenchFault
            As `GuardLink.interrupt`; then the power is off.
        """
        await self._free.wait()
        return await self._needed().interrupt(self._channel, for_s, why)

    async def fed_v(self) -> float:
        """Return the voltage that the supply gives now, V.

        Raises
        ------
        BenchFault
            As `GuardLink.fed_v`.
        """
        return await self._needed().fed_v(self._channel)

    def _needed(self) -> GuardLink:
        if self._guard is None:
            raise BenchFault("switch", msg("none is wired to this fixture"))
        return self._guard

    async def follow_guard(self) -> None:
        """Put what the guard says on record, and act on it."""
        if self._guard is None:
            return
        async with trio.open_nursery() as nursery:
            async with aclosing(cast(Any, self._guard.events())) as records:
                async for record in records:
                    self._hub.publish(record)
                    if isinstance(record, Mark):
                        self._act(record, nursery)
            nursery.cancel_scope.cancel()
        self.guard_done.set()

    def _act(self, mark: Mark, nursery: trio.Nursery) -> None:
        match fact_of(mark):
            case PowerChanged(on=on):
                self.is_on = on
                self._off_answered.set()
            case FellSilent(source=source):
                self._hold(source)
            case Rearmed():
                self._free.set()
                self._say("seen")
                if self.wished:
                    why = f"on again after {self._silent} fell silent"
                    nursery.start_soon(self._on_again, why, self._wish)
            case Tripped(source=source, value=value, limit=limit):
                tripped = msg(
                    "the guard tripped at {source}: it read {read}, its trip is {trip}",
                    source=source,
                    read=Amount(value or 0.0, "degC"),
                    trip=Amount(limit or 0.0, "degC"),
                )
                self._stop("stopped", tripped)
            case BenchFaulted(instrument="guard", what=what):
                self._stop("bench fault", what)
            case Alarm(waits=True, why=why):
                self._off_answered = trio.Event()
                nursery.start_soon(self._ends_without_off, self._off_answered, why)
            case Alarm(why=why):
                self._stop("bench fault", why)

    def _hold(self, source: str) -> None:
        """Wait with the power until the guard allows it again."""
        if self._free.is_set():  # else somebody already waits for the one that will be set
            self._free = trio.Event()
        self._silent = msg("the switch") if source == "switch" else just(source)
        self._say(
            BLIND, msg("the guard holds the power off: {what} fell silent", what=self._silent)
        )

    async def _ends_without_off(self, answered: trio.Event, why: str) -> None:
        """End the soak if the switch does not answer: nothing more is to be seen of the unit."""
        with trio.move_on_after(WAITS_FOR_OFF_S):
            await answered.wait()
        if not answered.is_set():
            self._stop("bench fault", why)

    async def _on_again(self, why: str, wish: object) -> None:
        """Switch on, as long as nobody has wished anything since: a check may want it off now."""
        mark = await self._while_wished(True, why, wish)
        if mark is not None and wish is self._wish and self.wake is not None:
            await self.wake(why)

    def _say(self, state: str, why: Message = NOTHING_SAID) -> None:
        self._hub.publish(state_of(self._clock.now_s(), "switch", state, StateSaid(why=why)))
