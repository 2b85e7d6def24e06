"""A very small bench in memory for tests of the runner: one relay, one picture, one probe."""

from collections.abc import AsyncIterator, Awaitable, Callable, Sequence
from dataclasses import dataclass, field

import trio
from headers import wanted_of

from soak.checks.base import all_checks
from soak.clock import LeapingClock
from soak.errors import BenchFault, JournalFull
from soak.instruments import Instruments
from soak.journal.memory import MemoryJournal
from soak.records import Mark, Reading, State
from soak.run.guard.step import Guarding
from soak.run.in_hand import Wiring
from soak.run.inbox import Request
from soak.run.plan import Plan, make_plan
from soak.run.script import script_from
from soak.run.soak import Ended, Soak

STARTS_AFTER_S = 12.0
SHEET = {
    "model": "test",
    "picture_when_on": "moving",
    "start_s": STARTS_AFTER_S,
    "start_limit_s": None,
    "mains": False,
    "disk": False,
    "lithium_cell": False,
    "holds_data": False,
    "functions": {},
    "ports": {},
    "spots": {
        "hot": {"text": "heatsink", "limit_degc": None, "rise_limit_k": None, "trip_degc": 90.0}
    },
}
FIXTURE = {
    "name": "small",
    "file": "small.toml",
    "simulated": "",
    "switch": {"driver": "test", "channel": "1"},
    "capture": {"driver": "test", "port": ""},
    "probe": {
        "hot": {"driver": "test", "spot": "hot", "unit": "degC", "guards": True, "accuracy": 1.0}
    },
}
SCRIPT = {
    "name": "small",
    "not_after": "1 h",
    "stretch": [
        {"name": "starts", "power_cycles": {"warm": 3, "off_s": 20, "on_s": 40}, "spots": {}},
        {"name": "run", "lasts": "5 min", "spots": {}},
    ],
}


@dataclass
class Faults:
    """What goes wrong, and when; spans in s of soak time."""

    deaf: Sequence[tuple[float, float]] = ()
    welded_from_s: float = 1e9
    silent: Sequence[tuple[float, float]] = ()
    hot_from_s: float = 1e9
    full_at_record: int = 10**9
    stop_at_s: float = 1e9
    skip_at_s: float = 1e9
    presser_deaf: Sequence[tuple[float, float]] = ()
    never_stops: bool = False


@dataclass
class World:
    """The relay, the picture that follows it, the probe; keeps what the relay was told."""

    faults: Faults
    told: list[tuple[float, bool]] = field(default_factory=list)
    is_on: bool = False
    on_since_s: float = 0.0
    changed: trio.Event = field(default_factory=trio.Event)
    identity: dict[str, str] = field(default_factory=dict)
    runs: bool = False
    stays_off: bool = False
    no_picture: str = "no signal"
    cut_while_running: list[float] = field(default_factory=list)

    async def aclose(self) -> None:
        pass

    async def command(self, channel: str, on: bool) -> None:
        await trio.sleep(0.05)
        now_s = trio.current_time()
        if within(now_s, self.faults.deaf):
            raise BenchFault("switch", "does not answer")
        self.told.append((now_s, on))
        if on or now_s < self.faults.welded_from_s:
            if on and not self.is_on:
                self.on_since_s = now_s
                self.runs = not self.stays_off
            if not on and self.is_on and self.runs:
                self.cut_while_running.append(now_s)
            self.is_on = on
            self.runs = self.runs and on
            self._tell()

    async def press(self, held_s: float) -> None:
        await self.release()
        await trio.sleep(held_s)
        if self.is_on and not self.runs:
            self.on_since_s, self.runs = trio.current_time(), True
        elif not self.faults.never_stops:
            self.runs = False
        self._tell()
        await self.release()

    async def release(self) -> None:
        await trio.sleep(0.05)
        if within(trio.current_time(), self.faults.presser_deaf):
            raise BenchFault("button", "does not answer")

    def _tell(self) -> None:
        self.changed.set()
        self.changed = trio.Event()

    async def watch(self, watcher: object) -> AsyncIterator[State]:
        latest = ""
        while True:
            dark = self.no_picture if self.is_on else "no signal"
            state = "picture" if self.has_started else dark
            if state != latest:
                latest = state
                yield State(trio.current_time(), "capture", state)
            with trio.move_on_after(1.0):
                await self.changed.wait()

    @property
    def has_started(self) -> bool:
        return self.runs and trio.current_time() - self.on_since_s >= STARTS_AFTER_S

    async def changes(self) -> AsyncIterator[State]:
        latest = ""
        while True:
            state = "seen" if self.has_started else "gone"
            if state != latest:
                latest = state
                yield State(trio.current_time(), "link", state)
            with trio.move_on_after(1.0):
                await self.changed.wait()

    async def readings(self) -> AsyncIterator[Reading | State]:
        silent = within(trio.current_time(), self.faults.silent)
        yield State(trio.current_time(), "probe.hot", "blind" if silent else "seen")
        while True:
            now_s = trio.current_time()
            if within(now_s, self.faults.silent) != silent:
                silent = not silent
                yield State(now_s, "probe.hot", "blind" if silent else "seen")
            if not silent:
                yield Reading(now_s, "probe.hot", 95.0 if now_s > self.faults.hot_from_s else 40.0)
            await trio.sleep(5)


def within(t_s: float, spans: Sequence[tuple[float, float]]) -> bool:
    return any(begin <= t_s < begin + length for begin, length in spans)


class FillingJournal(MemoryJournal):
    """A journal whose medium is full after so many records."""

    full_at = 10**9

    def append(self, record: object) -> int:
        if self._next >= self.full_at:
            raise JournalFull("the disk is full; free some room")
        return super().append(record)


@dataclass
class Ran:
    world: World
    journal: FillingJournal
    ended: Ended
    marks: list[Mark]


def run_small_soak(
    faults: Faults,
    script: dict = SCRIPT,
    fixture: dict = FIXTURE,
    listener: Callable[[object], None] = lambda _: None,
    told: World | None = None,
    button: dict | None = None,
    ask: Callable[[object], Awaitable[object]] | None = None,
    planned: Callable[[Plan], Plan] = lambda plan: plan,
) -> Ran:
    world, result = told or World(faults), []
    world.stays_off = bool(button and button["stays_off"])
    sheet = SHEET if button is None else {**SHEET, "button": button}
    clock = LeapingClock()
    seen: list[Mark] = []

    async def main() -> None:
        wanted = wanted_of("S-1", "J-1", {"tag": "S"}, sheet, fixture, {}, 1, True)
        plan = planned(make_plan(script_from(script, "small.toml", all_checks()), wanted, {}))
        probes = {f"probe.{name}": world for name in fixture.get("probe", {})}
        assert plan.guarding == {name: Guarding(name, 90.0, "heatsink") for name in probes}
        journal = FillingJournal(plan.header, clock=clock)
        journal.full_at = faults.full_at_record
        presser = world if "button" in fixture else None
        link = world if "link" in fixture else None
        instruments = Instruments(
            switch=world, capture=world, probes=probes, button=presser, link=link
        )
        wiring = Wiring(
            instruments, object(), ask or nobody, clock, None, [keep_marks(seen), listener]
        )
        soak = Soak(plan, journal, wiring)

        async def stop_later() -> None:
            await trio.sleep(faults.stop_at_s)
            soak.stop("stopped", "the operator said so")

        async def skip_later() -> None:
            await trio.sleep(faults.skip_at_s)
            soak._obey(Request("end stretch", "the operator"))

        async with trio.open_nursery() as nursery:
            if faults.stop_at_s < 1e8:
                nursery.start_soon(stop_later)
            if faults.skip_at_s < 1e8:
                nursery.start_soon(skip_later)
            result.append((journal, await soak.run()))
            nursery.cancel_scope.cancel()

    trio.run(main, clock=clock)
    journal, ended = result[0]
    return Ran(world, journal, ended, seen)


def keep_marks(into: list[Mark]):
    def keep(record: object) -> None:
        if isinstance(record, Mark):
            into.append(record)

    return keep


async def nobody(question: object) -> None:
    await trio.sleep_forever()
