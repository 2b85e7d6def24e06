"""The guard: owns the switch, follows the rules of `guard_step`, always ends off.

`LoopGuard` lives in a trio loop: in the runner's own (simulated time, a switch that is the
operator's hand), or in the guard's process, where it outlives the runner. `soak` is not a safety
device. A guard dies with its process; what it could not switch off it says aloud.
"""

import math
from collections.abc import AsyncIterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Protocol

import trio

from soak.clock import SoakClock
from soak.errors import BenchFault
from soak.marks import (
    Alarm,
    BenchWell,
    BreakOrdered,
    Fact,
    PowerChanged,
    PowerUnanswered,
    VoltageSet,
    fact_of,
    facts_in,
    mark_of,
)
from soak.records import Json, Mark, Observed, Reading, State
from soak.roles import GuardLink, Switch
from soak.run.guard.events import (
    Answered,
    End,
    Fed,
    GuardEvent,
    Silent,
    Tick,
    Unanswered,
    Value,
    Wish,
    WishBreak,
    WishVoltage,
)
from soak.run.guard.step import GOOD_AGAIN_S, SWITCH, Guarding, GuardState, guard_step, too_high
from soak.run.guard.supply import Feeding
from soak.states import BLIND
from soak.words import joined, msg

_RETRY_S = (1.0, 2.0, 5.0)
"""Pauses between tries of an off that the switch does not answer, s; the last one repeats. Our own
choice."""
_ORDERS = PowerChanged | VoltageSet | BreakOrdered
_READ_AFTER_S = (0.2, 0.3, 0.4)
"""So long after an on, and after one another, a supply is asked what it gives: its output may rise
slowly. Our own choice; all three lie within the first second."""
_READ_EVERY_S = 5.0
"""So often it is asked as long as it is on. Our own choice."""


class Guard(GuardLink, Protocol):
    """What the runner needs of a guard, wherever it lives."""

    def observe(self, record: Observed) -> None:
        """Take what guarding probes say."""
        ...

    async def watch(self) -> None:
        """Guard, for as long as the soak runs."""
        ...

    async def end(self, why: str, give_up_s: float) -> bool:
        """Switch off for good; return whether the switch answered within `give_up_s`."""
        ...

    def close(self) -> None:
        """Say nothing more, so that whoever follows `events` comes to an end."""
        ...

    def log(self) -> Json:
        """Return name, length and chain head of the guard's own log; empty if it has none."""
        ...


class LoopGuard:
    """Own one channel of the switch; implements `Guard`.

    Parameters
    ----------
    switch, channel
        What is owned.
    guarding : mapping of quantity name to Guarding
        The guarding probes; their quantity has the name of their source.
    beat_within_s : float
        A runner that is not heard for so long is taken for hung, s.
    """

    def __init__(
        self,
        switch: Switch,
        channel: str,
        guarding: Mapping[str, Guarding],
        clock: SoakClock,
        beat_within_s: float = math.inf,
    ) -> None:
        self._switch = switch
        self._channel = channel
        self._clock = clock
        self._probes = frozenset(guarding)  # of itself the switch is known here
        self._feeding = Feeding(switch, channel, clock, self._say)
        plain = GuardState(
            guarding={**guarding, SWITCH: Guarding(SWITCH, None)}, beat_within_s=beat_within_s
        )
        self._state = self._feeding.known_to(plain)
        self._went_on = trio.Event()
        self._lock = trio.Lock()
        self._closed = False
        self.said = 0
        self._answered_off = False
        self._told, self._tells = trio.open_memory_channel[GuardEvent](math.inf)
        self._out, self._events = trio.open_memory_channel[Observed](math.inf)

    async def command(self, channel: str, on: bool, why: str = "") -> Mark:
        if on:
            self._refuse_while_held()
        return _last(await self.happens(Wish(self._clock.now_s(), on, why)), PowerChanged)

    async def set_voltage(self, channel: str, volt: float, why: str = "") -> Mark:
        self._feeding.needed()
        self._refuse_while_held()
        if self._state.on:
            raise BenchFault("switch", msg("sets another voltage only while the unit is off"))
        if why := too_high(self._state, volt):
            raise BenchFault("switch", why)
        return _last(await self.happens(WishVoltage(self._clock.now_s(), volt, why)), VoltageSet)

    async def interrupt(self, channel: str, for_s: float, why: str = "") -> Mark:
        self._feeding.needed()
        self._refuse_while_held()
        if not self._state.on:
            raise BenchFault("switch", msg("breaks the power only of a unit that is on"))
        return _last(await self.happens(WishBreak(self._clock.now_s(), for_s, why)), PowerChanged)

    async def fed_v(self, channel: str) -> float:
        volt = await self._feeding.fed_v()
        await self.happens(Fed(self._clock.now_s(), volt))
        return volt

    def _refuse_while_held(self) -> None:
        if not self._state.allows_on:
            raise BenchFault(
                "switch",
                msg("the guard holds the power off: {why_not}", why_not=self._state.why_not),
            )

    def beat(self) -> None:
        """Say that the runner is alive; in the loop it is as alive as this guard."""

    def observe(self, record: Observed) -> None:
        """Take what guarding probes say."""
        if isinstance(record, Reading) and record.quantity in self._probes:
            self._hear(Value(record.t_s, record.quantity, record.value))
        elif isinstance(record, State) and record.source in self._probes and record.state == BLIND:
            self._hear(Silent(self._clock.now_s(), record.source))

    def _hear(self, event: GuardEvent) -> None:
        """Follow an event that orders nothing at once; any other wakes `watch`, in its turn."""
        if not self._lock.locked() and not self._tells.statistics().current_buffer_used:
            state, orders = guard_step(self._state, event)
            if not orders:
                self._state = state
                return
        self._told.send_nowait(event)

    async def events(self) -> AsyncIterator[Observed]:
        async for record in self._events:
            yield record

    async def rearm(self, channel: str, reason: str) -> None:
        await self.happens(Tick(self._clock.now_s()))
        if not self._state.allows_on:
            raise BenchFault("switch", msg("the guard does not allow power again yet"))

    async def watch(self) -> None:
        """Act on what the probes say, for as long as the soak runs."""
        async with trio.open_nursery() as nursery:
            nursery.start_soon(self._tick)
            if self._feeding.settable:
                nursery.start_soon(self._read_after_on)
            async for event in self._tells:
                await self.happens(event)

    async def end(self, why: str, give_up_s: float) -> bool:
        """Switch off for good; return whether the switch answered within `give_up_s`."""
        with trio.move_on_after(give_up_s):
            await self.happens(End(self._clock.now_s(), why))
            return True
        return False

    def close(self) -> None:
        """Say nothing more, so that whoever follows `events` comes to an end."""
        self._out.close()
        self._closed = True

    def log(self) -> Json:
        return {}

    @property
    def is_on(self) -> bool:
        """Whether the last order was on."""
        return self._state.on

    @property
    def is_held(self) -> bool:
        """Whether the power is held off, until good readings have lasted or for good."""
        return self._state.held

    @property
    def is_safe(self) -> bool:
        """Whether the last order was off for good and the switch has answered it."""
        state = self._state
        nominal = state.nominal_v is None or state.volt == state.nominal_v
        return state.ended and not state.on and self._answered_off and nominal

    def _say(self, record: Observed) -> None:
        if not self._closed:
            self.said += 1
            self._out.send_nowait(record)

    async def _tick(self) -> None:
        while True:
            await trio.sleep(GOOD_AGAIN_S / 4)
            if self._state.held:
                await self.happens(Tick(self._clock.now_s()))

    async def _read_after_on(self) -> None:
        """Read what the supply gives: again and again within a second of each on, then seldom."""
        while True:
            await self._went_on.wait()
            self._went_on = trio.Event()
            known = 0
            for after_s in _READ_AFTER_S:
                await trio.sleep(after_s)
                if self._state.on:
                    with suppress(BenchFault):
                        await self.fed_v(self._channel)
                        known += 1
            if not known:
                await self.happens(Fed(self._clock.now_s(), None))
            while self._state.on and not self._went_on.is_set():  # a knob may be turned
                with suppress(BenchFault):
                    await self.fed_v(self._channel)
                with trio.move_on_after(_READ_EVERY_S):
                    await self._went_on.wait()  # switched on anew it is asked at once again

    async def happens(self, event: GuardEvent) -> list[Mark]:
        """Follow the rules for one event; return what was ordered and done."""
        async with self._lock:
            return await self._follow(event)

    async def _follow(self, event: GuardEvent) -> list[Mark]:
        self._state, orders = guard_step(self._state, event)
        carried = []
        for order in orders:
            done: Mark | None = order
            match fact_of(order):
                case PowerChanged() as power:
                    done = await self._carry(power)
                case VoltageSet() as voltage:
                    done = await self._feed(voltage)
                case BreakOrdered() as broken:
                    done = await self._break(broken)
            if done is not None:
                carried.append(done)
                self._say(done)
        return carried

    async def _feed(self, order: VoltageSet) -> Mark | None:
        """Set the voltage. While that is under way, and where it fails, it is not known."""
        wanted_v = self._state.volt
        self._state = replace(self._state, volt=None)
        set_to = self._feeding.restore if order.back else self._feeding.obey
        try:
            mark = await set_to(order)
        except BenchFault:
            self._state = replace(self._state, on=False)
            raise
        if mark is not None:
            self._state = replace(self._state, volt=wanted_v)
        return mark

    async def _break(self, order: BreakOrdered) -> Mark:
        """Break the power for a moment; if it does not come back as it should it stays off."""
        self._say(self._power_mark(False, order.why))
        try:
            broken_s = await self._feeding.interrupt(order.for_s)
        except BenchFault as fault:
            self._unanswered(True, order.why, fault, loud=True)
            await self._follow(Wish(self._clock.now_s(), False, "a short break went wrong"))
            raise
        return self._power_mark(True, order.why, broken_s=round(broken_s, 4))

    def _power_mark(self, on: bool, why: str, **more: float) -> Mark:
        return mark_of(
            self._clock.now_s(), PowerChanged(on=on, channel=self._channel, why=why, **more)
        )

    async def _carry(self, order: PowerChanged) -> Mark:
        """Command the switch; off is tried for ever, on once."""
        self._answered_off = False
        for attempt in range(10**9):
            asked_s = self._clock.now_s()
            try:
                await self._switch.command(self._channel, order.on)
                break
            except Exception as bug:  # a driver that breaks must not leave the power on
                broke = BenchFault("switch", msg("the driver broke: {bug}", bug=repr(bug)))
                fault = bug if isinstance(bug, BenchFault) else broke
                self._unanswered(order.on, order.why, fault, loud=attempt == 0)
                if order.on:
                    raise fault from None
            await self._meanwhile(_RETRY_S[min(attempt, len(_RETRY_S) - 1)])
        self._answered_off = not order.on
        if order.on:
            self._went_on.set()
        if attempt or SWITCH in self._state.silent:  # a lost adapter may be back under another name
            self._take(Answered(self._clock.now_s()))
        if attempt:
            self._say(mark_of(self._clock.now_s(), BenchWell(instrument="switch")))
        within_s = round(self._clock.now_s() - asked_s, 4)
        return self._power_mark(order.on, order.why, within_s=within_s)

    async def _meanwhile(self, for_s: float) -> None:
        """Wait before off is told again, and say what the probes show meanwhile.

        All that could be ordered on that is off.
        """
        with trio.move_on_after(for_s):
            async for event in self._tells:
                self._take(event)

    def _take(self, event: GuardEvent) -> None:
        """Follow the rules for an event that comes while an off is being carried out."""
        self._state, marks = guard_step(self._state, event)
        for mark in marks:
            if not isinstance(fact_of(mark), _ORDERS):
                self._say(mark)

    def _unanswered(self, on: bool, why: str, fault: BenchFault, loud: bool) -> None:
        now_s = self._clock.now_s()
        if not on:
            self._take(Unanswered(now_s))
        if loud:
            sentence = joined(": ", [why, fault.what])
            self._say(mark_of(now_s, PowerUnanswered(on=on, channel=self._channel, why=sentence)))
        if loud and not on:
            waits = self._state.may_come_back
            alarm = msg(
                "the power could not be switched off ({what}); switch it off by hand",
                what=fault.what,
            )
            if waits:
                alarm = msg("{alarm}; once the switch answers the soak goes on", alarm=alarm)
            self._say(mark_of(now_s, Alarm(why=alarm, waits=waits)))


def _last(marks: Sequence[Mark], kind: type[Fact]) -> Mark:
    """Return the last mark of a kind.

    Raises
    ------
    BenchFault
        If there is none: the rules did not allow it.
    """
    stated = [mark for mark, _ in facts_in(marks, kind)]
    if not stated:
        raise BenchFault("switch", msg("the guard holds the power off"))
    return stated[-1]
