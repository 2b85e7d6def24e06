"""One unit in the guard's process: its channel of the switch, its probes, its rules, its log."""

import math
import os
import time
from collections.abc import Callable, Mapping, Sequence
from contextlib import aclosing, suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, cast

import trio

from soak.bench.registry import Tools, driver_of
from soak.clock import BootClock, SoakClock, boot_time_s
from soak.errors import BenchFault, JournalError, told_of
from soak.marks import (
    BenchFaulted,
    PowerChanged,
    PowerUnanswered,
    StateSaid,
    fact_in,
    mark_of,
    state_of,
)
from soak.records import Json, Mark, Observed, Reading, State
from soak.roles import Instrument, OffLoop, Probe, Supply, Switch
from soak.run.guard.events import End, Gone, Silent, Unheard, Value, Woke
from soak.run.guard.found_on import found_on
from soak.run.guard.guard import LoopGuard
from soak.run.guard.log import GuardLog
from soak.run.guard.owned import from_order
from soak.run.guard.step import SWITCH, Guarding
from soak.states import BLIND
from soak.words import Message, message_of, msg

_TRY_AGAIN_S = 5.0
"""An instrument that was lost is opened again after so long, s. Our own choice."""
_LOOK_EVERY_S = 0.25
"""The guard looks so often whether a soak still speaks, s. Our own choice: a quarter of the
shortest time that it may be silent."""
_LOOK_AT_PORT_EVERY_S = 1.0
"""A port that is gone is looked for so often, s. Our own choice."""
_SLEPT_S = 2.0
"""The boot clock so far ahead of the monotonic one: the host slept. Our own choice."""
_CLOSING_S = 5.0
"""An instrument has so long to let go, s. Our own choice."""
_LOG_LIMIT_S = 10.0
"""Its log may take so long to write, s; then the guard goes on without. Our own choice."""
_LOADING_LIMIT_S = 60.0
"""Its drivers may take so long to load, s. Our own choice: a busy host takes seconds."""

Say = Callable[[Observed], None]


@dataclass(frozen=True, slots=True)
class Order:
    """What a runner wants guarded.

    Attributes
    ----------
    zero_boot_s : float
        Boot time in s at which its soak time was 0.
    beat_within_s : float
        A runner that is not heard for so long is taken for hung, s.
    """

    soak_id: str
    channel: str
    zero_boot_s: float
    beat_within_s: float
    guarding: Mapping[str, Guarding]
    instruments: Json

    @staticmethod
    def read(message: Json) -> "Order":
        """Read the message `attach`.

        Raises
        ------
        BenchFault
            If it is not one.
        """
        try:
            return Order(
                str(message["soak_id"]),
                str(message["channel"]),
                float(message["zero_boot_s"]),
                beat_within_s=float(message["beat_within_s"]),
                guarding={name: Guarding(**entry) for name, entry in message["guarding"].items()},
                instruments=message["instruments"],
            )
        except (KeyError, TypeError, ValueError, AttributeError):
            raise BenchFault("guard", msg("was asked for what it does not understand")) from None


class Post:
    """Guard one unit; `open_post` makes it, `end` leaves it off.

    Parameters
    ----------
    found_on : bool or None
        Whether the unit had power before its guard switched it off; None: the switch cannot say.
    """

    def __init__(
        self,
        order: Order,
        opened: Mapping[str, Instrument],
        claims: frozenset[tuple[str, str]],
        off_loop: OffLoop,
        clock: SoakClock,
        found_on: bool | None = None,
    ) -> None:
        self.found_on = found_on
        self.order = order
        self.claims = claims
        self._off_loop = off_loop
        self._clock = clock
        self._opened = opened
        self._switch = cast(Switch, opened["switch"])
        self.guard = LoopGuard(
            self._switch,
            order.channel,
            order.guarding,
            clock=self._clock,
            beat_within_s=order.beat_within_s,
        )
        self.log: GuardLog | None = None
        self._folder: Path | None = None
        self._opening = trio.Lock()
        self.ready = trio.Event()
        """Set once the log is open and the runner's silence counts: nothing is on before that."""
        self._unheard_s = 0.0
        self._taken = 0
        self._handed = trio.Event()
        self.not_off: Json | None = None
        """Since when the switch has not answered an off, and why; None: it has answered."""
        self._ends_why = ""
        """Why the runner, or the system, wants it over; empty while nobody does."""

    @property
    def identities(self) -> Json:
        """What each instrument is."""
        return {source: dict(instrument.identity) for source, instrument in self._opened.items()}

    def heard(self) -> None:
        """Take it that the runner lives: it said something."""
        self._unheard_s = 0.0

    def now_s(self) -> float:
        """Return soak time in s."""
        return self._clock.now_s()

    async def begin(self, folder: Path, say: Say) -> None:
        """Open the log in the soak's folder; from now on the runner's beats count."""
        self._folder = folder
        try:
            await self._open_log()
        except (JournalError, TimeoutError) as fault:
            say(
                mark_of(
                    self.now_s(),
                    BenchFaulted(
                        instrument="guard log",
                        what=msg("cannot be kept: {why}", why=told_of(fault)),
                    ),
                )
            )
        await self.note("guard begins", {"identity": self.identities})
        self._unheard_s = 0.0
        self.ready.set()

    async def note(self, what: str, detail: Json) -> None:
        """Put a line into the log; a full disk must not keep the guard from guarding."""
        t_s = self.now_s()
        utc = self._clock.utc().isoformat(timespec="milliseconds")
        with suppress(JournalError, OSError, TimeoutError, ValueError):
            await self._open_log()
            if self.log is not None:
                args = (t_s, utc, what, dict(detail))
                await self._off_loop.call(_LOG_LIMIT_S, self.log.append, *args)

    async def _open_log(self) -> None:
        """Open the log if that is still to be done: a runner may die while `begin` is at it."""
        async with self._opening:
            if self.log is None and self._folder is not None:
                try:
                    self.log = await self._off_loop.call(_LOG_LIMIT_S, GuardLog, self._folder)
                except (JournalError, TimeoutError):
                    self._folder = None  # said once, and not tried again
                    raise

    async def watch(self, say: Say) -> None:
        """Guard, and hand on what the instruments and the guard say, until cancelled."""
        async with trio.open_nursery() as nursery:
            nursery.start_soon(self.guard.watch)
            nursery.start_soon(self._hand_on, say)
            nursery.start_soon(self._look_at_runner_and_host, say)
            nursery.start_soon(self._look_at_port)
            for source, instrument in self._opened.items():
                if source != "switch":
                    nursery.start_soon(self._pump, source, cast(Probe, instrument), say)

    async def end(self, why: str) -> None:
        """Switch off for good, trying for ever, and close the log."""
        self._ends_why = why
        await self.guard.end(why, math.inf)
        while self._taken < self.guard.said:
            await self._handed.wait()
        await self.note("guard ends", {"why": why})

    async def lost(self) -> None:
        """Switch off at once, trying for ever, for nobody is at the line any more; log it.

        The runner is dead, or it ended in order and did not wait for a switch that does not answer.
        """
        ends_why = self._ends_why
        now_s = self.now_s()
        async with trio.open_nursery() as nursery:
            nursery.start_soon(self._hand_on, lambda record: None)
            await self.guard.happens(End(now_s, ends_why) if ends_why else Gone(now_s))
            while self._taken < self.guard.said:
                await self._handed.wait()
            nursery.cancel_scope.cancel()
        await self.note("guard ends", {"why": ends_why or "the runner is gone"})

    async def aclose(self) -> None:
        """Let go of instruments and log."""
        self.guard.close()
        for instrument in reversed(list(self._opened.values())):
            with trio.move_on_after(_CLOSING_S, shield=True), suppress(OSError, BenchFault):
                await instrument.aclose()
        if self.log is not None:
            self.log.close()

    async def _hand_on(self, say: Say) -> None:
        async for record in self.guard.events():
            say(record)
            if isinstance(record, Mark):
                self._notice(record)
                with trio.CancelScope(shield=True):
                    await self.note(record.what, record.detail)
            self._taken += 1
            self._handed.set()
            self._handed = trio.Event()

    def _notice(self, mark: Mark) -> None:
        """Keep what whoever joins this guard is to know."""
        unanswered = fact_in(mark, PowerUnanswered)
        power = fact_in(mark, PowerChanged)
        if unanswered and not unanswered.on:
            notice = {"soak_id": self.order.soak_id, "channel": self.order.channel}
            since = self._clock.utc().isoformat(timespec="seconds")
            self.not_off = {**notice, "since": since, "what": unanswered.why}
        elif power and not power.on:
            self.not_off = None

    async def _look_at_runner_and_host(self, say: Say) -> None:
        """Count the time in which the runner could have been heard, and notice sleep."""
        asleep_s = _asleep_s()
        last_s = trio.current_time()
        while True:
            await trio.sleep(_LOOK_EVERY_S)
            slept_s = _asleep_s() - asleep_s
            asleep_s = _asleep_s()
            if slept_s > _SLEPT_S:
                await self.guard.happens(Woke(self.now_s(), slept_s))
            # What this process itself missed, starved or stopped, does not count against the
            # runner: its beats lie unread in the line.
            passed_s = trio.current_time() - last_s
            last_s = trio.current_time()
            self._unheard_s += min(passed_s, 2 * _LOOK_EVERY_S)
            if self.ready.is_set():
                await self.guard.happens(Unheard(self.now_s(), self._unheard_s))

    async def _look_at_port(self) -> None:
        """Treat an adapter of the switch that vanished like a silent guarding probe."""
        port = str(self._switch.identity.get("port", ""))
        if not port.startswith("/"):
            return
        there = True
        while True:
            await trio.sleep(_LOOK_AT_PORT_EVERY_S)
            with suppress(TimeoutError):  # a busy host: nothing is known that was not before
                there = await self._off_loop.call(_LOG_LIMIT_S, os.path.exists, port)
            now_s = self.now_s()
            event = Value(now_s, SWITCH, 1.0) if there else Silent(now_s, SWITCH)
            if there or self.guard.is_on or self.guard.is_held:
                await self.guard.happens(event)
                port = str(self._switch.identity.get("port", port))

    async def _pump(self, source: str, probe: Probe, say: Say) -> None:
        """Hand on what a probe says; one that breaks is blind and is asked again."""
        while True:
            why = msg("the stream ended")
            try:
                async with aclosing(cast(Any, probe.readings())) as records:
                    async for record in records:
                        self._take(record, say)
            except Exception as bug:  # whatever it is, the guard goes on and the probe is silent
                why = msg("the driver broke: {bug}", bug=repr(bug))
                if isinstance(bug, BenchFault):
                    why = bug.what
            self._take(state_of(trio.current_time(), source, BLIND, StateSaid(why=why)), say)
            await trio.sleep(_TRY_AGAIN_S)

    def _take(self, record: Reading | State, say: Say) -> None:
        in_soak = replace(record, t_s=record.t_s - self.order.zero_boot_s)
        self.guard.observe(in_soak)
        say(in_soak)


async def open_post(order: Order, tools: Tools, posts: Sequence[Post]) -> Post:
    """Open the instruments of an order and switch the unit off, before anything else.

    Parameters
    ----------
    posts : sequence of Post
        What this guard guards already.

    Raises
    ------
    BenchFault
        If one does not open, the channel is another soak's, or the switch does not answer.
    """
    opened: dict[str, Instrument] = {}
    try:
        # Off the loop, for a driver is loaded with it: other units' runners must hear this guard.
        wanted = await tools.off_loop.call(_LOADING_LIMIT_S, from_order, order.instruments)
        for source, (role, wired) in wanted.items():
            opened[source] = await driver_of(role, wired.driver).open(source, wired, tools)
            if source == "switch":
                claims = _claims(opened[source], wired)
                for post in posts:
                    if claims & post.claims:
                        raise BenchFault("switch", _taken(order.channel, post))
        if "switch" not in opened:
            raise BenchFault("guard", msg("was given no switch"))
        channel = await found_on(opened["switch"], order.channel)
        await cast(Switch, opened["switch"]).command(order.channel, False)
        if isinstance(opened["switch"], Supply):
            await opened["switch"].set_voltage(order.channel, opened["switch"].nominal_v)
    except BaseException as fault:
        for instrument in reversed(list(opened.values())):
            with trio.move_on_after(_CLOSING_S, shield=True), suppress(OSError, BenchFault):
                await instrument.aclose()
        if isinstance(fault, OSError | trio.TooSlowError | ImportError):
            raise BenchFault(
                "guard", msg("an instrument cannot be opened: {why}", why=told_of(fault))
            ) from None
        raise
    clock = BootClock(begins_at_s=boot_time_s() - order.zero_boot_s)
    return Post(order, opened, claims, off_loop=tools.off_loop, clock=clock, found_on=channel)


def _taken(channel: str, post: Post) -> Message:
    """Say why a channel cannot be had."""
    if post.not_off is None:
        return msg(
            "channel {channel} is guarded for another soak that runs; give each unit its own "
            "channel",
            channel=channel,
        )
    return msg(
        "the guard still tries to switch off channel {channel} for {soak} ({what}); mend that "
        "first",
        channel=channel,
        soak=post.order.soak_id,
        what=message_of(post.not_off["what"]),
    )


def _claims(switch: Instrument, wired: Any) -> frozenset[tuple[str, str]]:
    """Return what the switch takes, by the adapter's identity where it has one."""
    adapter = str(switch.identity.get("adapter", ""))
    return frozenset((adapter or claim.port, claim.part) for claim in wired.claims())


def _asleep_s() -> float:
    return boot_time_s() - time.monotonic()
