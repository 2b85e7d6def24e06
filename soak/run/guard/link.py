"""The runner's end of the guard's process: joins it, hears it, outlives it."""

import math
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from contextlib import suppress
from dataclasses import asdict
from itertools import count
from pathlib import Path
from typing import Any

import trio

from soak.bench.registry import Tools, driver_of
from soak.clock import SoakClock, boot_time_s
from soak.errors import BenchFault
from soak.frozen.wiring import SwitchWired
from soak.marks import (
    LINES,
    Alarm,
    BenchFaulted,
    Fact,
    HandNeeded,
    PowerChanged,
    StateSaid,
    Unguarded,
    fact_in,
    mark_of,
    state_of,
)
from soak.records import Json, Mark, Observed, Reading, State
from soak.roles import Supply
from soak.run.guard.step import Guarding
from soak.run.guard.supply import not_nominal, plainly
from soak.run.guard.wire import BEAT_EVERY_S, Line, OtherEndGone, as_message, as_record
from soak.states import BLIND

SILENT_BEATS = 4
"""So many beats in a row missing, 1 s, and the guard is taken for hung, if this program itself woke
in time for each; one that is dead is noticed at once, for its line closes. Our own choice."""

SILENT_AT_MOST = 16
"""So many missing, and it is taken for hung whatever held this program up: a host that is merely
busy holds up both. Our own choice."""

_IN_TIME = 1.4
"""Woken after so many times the pause it asked for, a program was not held up. Our own choice."""

_GONE = "the guard's process is gone"


class OwnedSwitch:
    """The switch as the runner has it: known, and out of reach except through the guard."""

    def __init__(self, identity: Json, found_on: bool | None = None) -> None:
        self.identity = identity
        self._found_on = found_on

    async def asked_on(self, channel: str) -> bool:
        """Return whether the power was on when the guard came to it.

        Raises
        ------
        BenchFault
            If that is not known.
        """
        await trio.lowlevel.checkpoint()
        if self._found_on is None:
            raise BenchFault("switch", "cannot say whether the power was on")
        return self._found_on

    async def command(self, channel: str, on: bool) -> None:
        """Refuse: only the guard commands.

        Raises
        ------
        BenchFault
        """
        raise BenchFault("switch", "belongs to the guard; nothing else may command it")

    async def aclose(self) -> None:
        await trio.lowlevel.checkpoint()


class OwnedProbe:
    """A probe that the guard owns: what it says comes over the line."""

    def __init__(self, source: str, identity: Json) -> None:
        self.identity = identity
        self._source = source
        self._told, self._tells = trio.open_memory_channel[Reading | State](math.inf)

    def say(self, record: Reading | State) -> None:
        """Take what the guard handed on."""
        self._told.send_nowait(record)

    async def readings(self) -> AsyncIterator[Reading | State]:
        async for record in self._tells:
            yield record

    async def aclose(self) -> None:
        await trio.lowlevel.checkpoint()


class ProcessGuard:
    """Guard one unit through the guard's process; implements `Guard`.

    Parameters
    ----------
    line : Line
        To the guard, greeted and attached.
    identities : mapping of source to identity
        What the guard has opened.
    folder : Path
        The soak's folder, where the guard keeps its log.
    guarding : mapping of source to Guarding
        All guarding probes, also those that the guard does not own.
    off_at_last : callable
        Switches off without the guard, told whether it is hung; returns when that is done, with
        what a person must still do.
    found_on : bool or None
        Whether the power was on when the guard came to the switch; None: it could not say.
    """

    def __init__(
        self,
        line: Line,
        identities: Mapping[str, Json],
        folder: Path,
        guarding: Mapping[str, Guarding],
        clock: SoakClock,
        off_at_last: Callable[[bool, Callable[[str], None]], Awaitable[str]],
        found_on: bool | None = None,
    ) -> None:
        self._line = line
        self._clock = clock
        self._off_at_last = off_at_last
        self.switch = OwnedSwitch(identities["switch"], found_on)
        self.probes = {
            source: OwnedProbe(source, identity)
            for source, identity in identities.items()
            if source != "switch"
        }
        self._foreign = frozenset(guarding) - frozenset(self.probes)
        self._out, self._events = trio.open_memory_channel[Observed](math.inf)
        self._asked: dict[int, tuple[trio.Event, list[Json]]] = {}
        self._numbers = count(1)
        self._log = dict[str, Any]()
        self._heard = True
        self._lost = ""
        self._heard_s = clock.now_s()
        self._on = False
        self._asking_on = 0
        self._off = trio.Event()
        self._closed = False
        # Told before any order, so that the log knows of each: `watch` delivers it first.
        self._line.tell({"do": "begin", "folder": str(folder.resolve())})

    async def command(self, channel: str, on: bool, why: str = "") -> Mark:
        if self._lost and not on:
            await self._off.wait()
            return self._off_mark(why)
        self._asking_on += on  # until the answer the unit may be on already
        try:
            return await self._marked({"do": "power", "on": on, "why": why})
        finally:
            self._asking_on -= on

    async def set_voltage(self, channel: str, volt: float, why: str = "") -> Mark:
        return await self._marked({"do": "voltage", "volt": volt, "why": why})

    async def interrupt(self, channel: str, for_s: float, why: str = "") -> Mark:
        return await self._marked({"do": "break", "for_s": for_s, "why": why})

    async def fed_v(self, channel: str) -> float:
        return float((await self._ask({"do": "fed"}))["volt"])

    async def _marked(self, message: Json) -> Mark:
        mark = as_record(await self._ask(message))
        assert isinstance(mark, Mark)
        return mark

    def beat(self) -> None:
        """Say that the runner is alive."""
        self._line.tell({"do": "beat"})

    def observe(self, record: Observed) -> None:
        """Hand on what guarding probes say that the guard does not own itself."""
        source = record.quantity if isinstance(record, Reading) else ""
        source = record.source if isinstance(record, State) else source
        if source in self._foreign:
            assert isinstance(record, Reading | State)
            self._line.tell({"do": "seen", **as_message(record)})

    async def events(self) -> AsyncIterator[Observed]:
        async for record in self._events:
            yield record

    async def rearm(self, channel: str, reason: str) -> None:
        await self._ask({"do": "rearm", "why": reason})

    async def watch(self) -> None:
        """Beat, hear the guard, and switch off without it when it is dead or hung."""
        why = _GONE
        hung = False
        async with trio.open_nursery() as nursery:
            nursery.start_soon(self._line.deliver)
            nursery.start_soon(self._hear, nursery.cancel_scope)
            silent = missed = 0
            while silent < SILENT_BEATS and missed < SILENT_AT_MOST:
                self.beat()
                self._heard = False
                asked_s = trio.current_time()
                await trio.sleep(BEAT_EVERY_S)
                in_time = trio.current_time() - asked_s < _IN_TIME * BEAT_EVERY_S
                silent = 0 if self._heard or not in_time else silent + 1
                missed = 0 if self._heard else missed + 1
            why = f"the guard has said nothing for {missed * BEAT_EVERY_S:g} s"
            hung = True
            nursery.cancel_scope.cancel()
        await self._without_guard(why, hung)

    async def end(self, why: str, give_up_s: float) -> bool:
        """Switch off for good; return whether the switch answered within `give_up_s`."""
        with trio.move_on_after(give_up_s):
            if not self._lost:
                try:
                    await self._ask({"do": "end", "why": why})
                    return True
                except BenchFault:
                    pass  # it died meanwhile: `watch` switches off
            await self._off.wait()
            return True
        return False

    def close(self) -> None:
        self._out.close()
        self._closed = True

    def log(self) -> Json:
        return self._log

    async def aclose(self) -> None:
        """Leave the guard; twice is safe."""
        await self._line.aclose()

    async def _hear(self, hearing: trio.CancelScope) -> None:
        try:
            while True:
                message = await self._line.hear()
                self._heard = True
                self._heard_s = self._clock.now_s()
                self._take(message)
        except OtherEndGone:
            hearing.cancel()

    def _take(self, message: Json) -> None:
        word = message.get("said")
        if word == "record":
            record = as_record(message)
            if isinstance(record, Mark):
                if power := fact_in(record, PowerChanged):
                    self._on = power.on
                self._say(record)
            else:
                source = record.source if isinstance(record, State) else record.quantity
                self.probes[source.removesuffix(LINES)].say(record)
        elif word in ("answer", "refused"):
            self._log = message.get("log") or self._log
            event, answers = self._asked.pop(int(message["id"]), (trio.Event(), []))
            answers.append(message)
            event.set()

    async def _ask(self, message: Json) -> Json:
        if self._lost:
            raise BenchFault("guard", self._lost)
        number = next(self._numbers)
        event = trio.Event()
        answers = list[Json]()
        self._asked[number] = (event, answers)
        self._line.tell({**message, "id": number})
        await event.wait()
        if not answers:
            raise BenchFault("guard", self._lost)
        if answers[0]["said"] == "refused":
            raise BenchFault(answers[0]["instrument"], answers[0]["what"])
        return answers[0]

    async def _without_guard(self, why: str, hung: bool) -> None:
        self._lost = why
        may_be_on = self._on or self._asking_on > 0
        told = f"{why}; the runner switches off without it"
        self._say(self._made(BenchFaulted(instrument="guard", what=told)))
        for event, _ in self._asked.values():
            event.set()
        for source, probe in self.probes.items():
            probe.say(state_of(self._clock.now_s(), source, BLIND, StateSaid(why=why)))
        still = await self._off_at_last(hung, self._unanswered)
        self._say(self._off_mark(why))
        if may_be_on:
            self._say(self._made(Unguarded(from_s=self._heard_s, by="runner")))
        if still:
            self._say(self._made(HandNeeded(why=still)))
        self._off.set()

    def _unanswered(self, why: str) -> None:
        alarm = f"the power could not be switched off ({why}); switch it off by hand"
        self._say(self._made(Alarm(why=alarm)))

    def _off_mark(self, why: str) -> Mark:
        return self._made(PowerChanged(on=False, why=why))

    def _made(self, fact: Fact) -> Mark:
        return mark_of(self._clock.now_s(), fact)

    def _say(self, record: Observed) -> None:
        if not self._closed:
            self._out.send_nowait(record)


def attach_message(
    soak_id: str,
    channel: str,
    beat_within_s: float,
    guarding: Mapping[str, Guarding],
    instruments: Json,
    clock: SoakClock,
) -> Json:
    """Return what a runner says first."""
    return {
        "do": "attach",
        "soak_id": soak_id,
        "channel": channel,
        "beat_within_s": beat_within_s,
        "zero_boot_s": boot_time_s() - clock.now_s(),
        "guarding": {name: asdict(entry) for name, entry in guarding.items()},
        "instruments": instruments,
    }


_RETRY_S = (0.1, 0.2, 0.5, 1.0, 2.0)
"""Pauses between tries to reach the guard's socket, s. Our own choice."""
_CLOSING_S = 5.0
"""So long the guard has to take leave, s. Our own choice."""


async def take_over(wired: SwitchWired, tools: Tools, unanswered: Callable[[str], None]) -> str:
    """Open the switch and command off, again and again until it has answered.

    A supply that sets its voltage is returned to nominal then; where it does not go there, what a
    person must do is returned.

    The port is given back each time: another runner may have a unit on another channel of it.

    Parameters
    ----------
    unanswered : callable
        Told once, with the reason, when the first attempts have failed.
    """
    failures = 0
    while True:
        try:
            return await _off_once(wired, tools)
        except Exception as fault:  # whatever a driver does: nobody else is left to switch off
            failures += 1
            if failures == len(_RETRY_S):
                unanswered(fault.what if isinstance(fault, BenchFault) else repr(fault))
        await trio.sleep(_RETRY_S[min(failures, len(_RETRY_S)) - 1])


async def _off_once(wired: SwitchWired, tools: Tools) -> str:
    switch = await driver_of("switch", wired.driver).open("switch", wired, tools)
    try:
        await switch.command(wired.channel, False)  # type: ignore[attr-defined]  # role switch
        if isinstance(switch, Supply):
            try:
                await plainly(switch.set_voltage, wired.channel, switch.nominal_v)
            except BenchFault as fault:
                return not_nominal(fault.what)
        return ""
    finally:
        with trio.move_on_after(_CLOSING_S, shield=True), suppress(Exception):
            await switch.aclose()
