"""Prove a fixture: what the bench saw, and how small a break it can see, kept for reports."""

import sys
from datetime import UTC, datetime
from pathlib import Path

import trio

from soak.bench.fixture import Fixture
from soak.bench.model_sheet import ModelSheet
from soak.bench.off_loop import off_loop_for
from soak.bench.registry import Tools, open_instruments
from soak.clock import BootClock, LeapingClock, SoakClock
from soak.desk.bench_folder import BenchFolder
from soak.desk.cautions import cautions
from soak.desk.challenges import keep
from soak.desk.orders import drivers_for, fixture_file, read_any_fixture
from soak.desk.sight import make_looker
from soak.desk.units import open_ledger
from soak.errors import ExitCode
from soak.journal import MemoryJournal
from soak.live.prompt import TerminalOperator, as_wanted
from soak.records import FORMAT, Header
from soak.report.context import Challenge
from soak.roles import Ask, Instruments
from soak.run.guard import LoopGuard
from soak.run.hub import Hub
from soak.run.plan import wired_quantities
from soak.run.power import Power
from soak.run.proving import Stand, Step
from soak.run.proving import prove as prove_all
from soak.run.pumps import Pumps

_OFF_GIVE_UP_S = 60.0
_SIGNS = {"proved": "+", "not proved": "x", "not done": "-"}


def prove(bench_path: Path, fixture_name: str, model: str) -> int:
    """Prove a fixture on a unit of a model; return the exit code."""
    bench = BenchFolder(bench_path)
    sheet = bench.model_sheet(model)
    fixture = read_any_fixture(fixture_file(bench, Path(fixture_name)), sheet)
    simulated = bool(fixture.simulated)
    clock: SoakClock = LeapingClock() if simulated else BootClock()
    ask: Ask = as_wanted(_say) if simulated else TerminalOperator()
    for line in [] if simulated else cautions([sheet]):
        _say(line)
    for worn in [] if simulated else open_ledger(bench_path).worn(fixture.as_json()):
        _say(f"MIND: {worn}")
    steps: list[Step] = []
    trio.run(_prove, fixture, sheet, clock, ask, steps, clock=clock)
    seen = [
        Challenge(step.source, step.what, step.smallest_s)
        for step in steps
        if step.challenge and step.outcome != "not done"
    ]
    keep(bench.path, fixture.file, f"{datetime.now(UTC):%Y-%m-%d}", seen)
    _say("kept for the reports of soaks on this fixture")
    failed = any(step.outcome == "not proved" for step in steps)
    return int(ExitCode.BENCH_FAULT if failed else ExitCode.DONE)


async def _prove(
    fixture: Fixture, sheet: ModelSheet, clock: SoakClock, ask: Ask, steps: list[Step]
) -> None:
    tools = Tools(off_loop_for(clock), ask, clock)
    async with open_instruments(fixture, tools, drivers_for(fixture, 1)) as instruments:
        described = fixture.as_json(instruments)
        hub = Hub(MemoryJournal(_header(described, sheet), clock=clock), lambda _: None)
        channel = fixture.switch.channel if fixture.switch else ""
        guard = _guard(instruments, channel, clock)
        power = Power(guard, channel, hub, clock, lambda how, why: _say(f"{how}: {why}"))
        by_hand = not clock.leaping
        stand = Stand(
            instruments, described, sheet.model_dump(mode="json"), hub, power, ask, clock, by_hand
        )
        async with trio.open_nursery() as streams:
            Pumps(hub, clock).start(streams, instruments, make_looker(fixture, sheet))
            streams.start_soon(power.follow_guard)
            try:
                steps += await prove_all(stand, _tell)
            finally:
                with trio.CancelScope(shield=True):
                    if guard is not None and not await guard.end("prove is over", _OFF_GIVE_UP_S):
                        _say("ALARM: the power could not be switched off; do it by hand")
            streams.cancel_scope.cancel()


def _guard(instruments: Instruments, channel: str, clock: SoakClock) -> LoopGuard | None:
    switch = instruments.switch
    return None if switch is None else LoopGuard(switch, channel, {}, clock)


def _header(fixture: dict[str, object], sheet: ModelSheet) -> Header:
    """Return a header for the journal in memory: nothing of it is kept."""
    return Header(
        FORMAT,
        "prove",
        "prove",
        {},
        sheet.model_dump(mode="json"),
        {},
        fixture,
        tuple(wired_quantities(fixture).values()),
        (),
        {},
        0,
        bool(fixture["simulated"]),
    )


def _tell(step: Step) -> None:
    _say(f"{_SIGNS[step.outcome]} {step.source:<16} {step.what}: {step.seen}")


def _say(text: str) -> None:
    sys.stderr.write(f"{text}\n")
