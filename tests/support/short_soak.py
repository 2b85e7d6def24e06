"""A soak of one stretch on a simulated unit in leaping time, and what is found."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import trio
from headers import wanted_of

from soak.bench.fixture import read_fixture
from soak.bench.model_sheet import read_model_sheet
from soak.bench.off_loop import off_loop_for
from soak.bench.registry import Tools, open_instruments
from soak.checks.base import all_checks
from soak.clock import LeapingClock
from soak.desk.soaking.sight import make_watcher
from soak.errors import FixtureError
from soak.evidence import Evidence
from soak.frozen.sheet import PowerButton
from soak.journal import MemoryJournal
from soak.judge.grade import judge
from soak.records import Mark
from soak.roles import Question
from soak.rules.core.verdict import Finding
from soak.run.in_hand import Wiring
from soak.run.plan import make_plan
from soak.run.script import script_from
from soak.run.soak import Soak
from soak.settings import checked
from soak.sim.hand import hand_of
from soak.sim.instruments import drivers_of
from soak.sim.scene import Scene
from soak.sim.unit import SimulatedUnit

SHEET = Path(__file__).parents[2] / "fixtures" / "models" / "ferrow-sp-40.toml"
GOOD = {"name": "good", "truth": "good", "truth_grade": "ready", "fault": "none"}
Answer = Callable[[SimulatedUnit, Question], Any]
"""Does what the operator does; an awaitable that returns the answer."""


@dataclass(frozen=True)
class Found:
    """What came of it."""

    unit: SimulatedUnit
    findings: Mapping[str, Finding]
    marks: Sequence[Mark]
    evidence: Evidence

    def verdict(self, requirement: str) -> str:
        """Return the verdict of a requirement of the stretch `it`."""
        return self.findings[f"it/{requirement}"].verdict.value

    def because(self, requirement: str) -> str:
        """Return its reason."""
        return self.findings[f"it/{requirement}"].because


async def said_yes(unit: SimulatedUnit, question: Question) -> str:
    """Answer as is wanted, after a moment, and move nothing."""
    await trio.sleep(5.0)
    return question.wanted or "yes"


def soak(
    tmp_path: Path,
    fixture: str,
    checks: Mapping[str, Mapping[str, Any]],
    scene: Mapping[str, Any] | None = None,
    lasts: str = "",
    answer: Answer = said_yes,
    stop_at_s: float = 1e9,
    seed: int = 5,
    button: Mapping[str, Any] | None = None,
) -> Found:
    """Soak a simulated unit for one stretch named `it`; `button` goes into its model sheet."""
    unit = SimulatedUnit(checked(Scene, {**GOOD, **(scene or {})}, "scene", FixtureError), seed)
    clock = LeapingClock()
    file = tmp_path / "fixture.toml"
    file.write_text(f'name = "short"\nsimulated = "good"\n{fixture}')
    stretch = {"name": "it", **checks} | ({"lasts": lasts} if lasts else {})

    async def ask(question: Question) -> Any:
        return await answer(unit, question)

    async def main() -> Found:
        return await _soak(unit, clock, file, stretch, ask, stop_at_s, button)

    return trio.run(main, clock=clock)


async def _soak(unit, clock, file, stretch, ask, stop_at_s, button) -> Found:
    sheet, drivers = read_model_sheet(SHEET), drivers_of(unit)
    if button is not None:
        sheet = sheet.model_copy(update={"button": PowerButton(**button)})
    fixture = read_fixture(file, sheet, drivers)
    script = {"name": "short", "not_after": "20 h", "stretch": [stretch]}
    async with open_instruments(
        fixture, Tools(off_loop_for(clock), ask, clock), drivers
    ) as instruments:
        described = {"serial": "1", "tag": "S", "model": "x", "repairs": [], "wiped": None}
        wanted = wanted_of(
            "S-1",
            "J-1",
            {**described, "came_back": []},
            sheet,
            fixture.opened(instruments.identities()),
            {},
            5,
            True,
        )
        plan = make_plan(script_from(script, "short.toml", all_checks()), wanted, {})
        journal = MemoryJournal(plan.header, clock=clock)
        wiring = Wiring(
            instruments, make_watcher(fixture, sheet), ask, clock, listeners=[hand_of(unit)]
        )
        running = Soak(plan, journal, wiring)

        async def stop() -> None:
            await trio.sleep(stop_at_s)
            running.stop("stopped", "half-way")

        async with trio.open_nursery() as nursery:
            nursery.start_soon(stop)
            await running.run()
            nursery.cancel_scope.cancel()
    evidence = journal.evidence
    findings = {one.requirement.id: one for one in judge([evidence]).findings}
    return Found(unit, findings, evidence.marks(), evidence)
