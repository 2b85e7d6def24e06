"""What the operator orders: a script, on units, each wired to a fixture."""

import secrets
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from soak.bench.fixture import read_fixture
from soak.bench.registry import Drivers
from soak.derive.jobs_before import as_reference
from soak.desk.bench_folder import BenchFolder
from soak.desk.from_before.channel_worked import channel_worked
from soak.desk.from_before.jobs_before import seen_by_jobs_before, to_mind
from soak.desk.from_before.like_units import heat_references, pool, start_times
from soak.desk.from_before.tries import tries_before
from soak.desk.paper.details import left_out
from soak.desk.proof.challenges import reference
from soak.errors import FixtureError, UsageError
from soak.frozen.fixture import Fixture
from soak.frozen.references import References
from soak.frozen.sheet import ModelSheet
from soak.frozen.unit import UnitStated
from soak.ledger.ledger import Ledger
from soak.outside import is_file
from soak.records import Observed
from soak.run.plan import Plan, Wanted, make_plan
from soak.run.script import Script
from soak.sim.hand import hand_of
from soak.sim.instruments import drivers_of, simulated_drivers, simulated_unit
from soak.sim.scene import read_scene
from soak.sim.troubles import host_sleep
from soak.sim.unit import SimulatedUnit
from soak.words import Message, msg


@dataclass(frozen=True, slots=True)
class Order:
    """One unit on one fixture, as typed: `UNIT@FIXTURE`."""

    unit: str
    fixture: Path


@dataclass(frozen=True, slots=True)
class Prepared:
    """One soak, checked in every respect, before anything is opened or switched.

    Attributes
    ----------
    warnings : sequence of str
        What the operator must hear before power: come-backs, open hazards.
    """

    folder: Path
    script: Script
    wanted: Wanted
    fixture: Fixture
    sheet: ModelSheet
    warnings: Sequence[str]

    def drivers(self) -> Drivers:
        """Return the drivers the fixture needs besides the real ones: a new simulated unit."""
        return drivers_for(self.fixture, self.wanted.seed)

    def simulated(self) -> tuple[Drivers, Sequence[Callable[[Observed], None]]]:
        """Return these drivers, and the hands that move the unit's plugs when a check cues it."""
        if not self.fixture.simulated:
            return {}, ()
        # Without a switch the hand switches it on, when the soak asks for it.
        unit = simulated_unit(read_scene(self.fixture.simulated), self.wanted.seed)
        return drivers_of(unit), (hand_of(unit),)

    def host_sleep(self) -> tuple[float, float] | None:
        """Return when the simulated host falls asleep and for how long, s; None if it does not."""
        if not self.fixture.simulated:
            return None
        trouble = host_sleep(read_scene(self.fixture.simulated), self.wanted.seed)
        return None if trouble is None else (trouble.from_s, trouble.until_s - trouble.from_s)

    def plan(
        self, fixture: Fixture, earlier: Mapping[str, Mapping[str, Any]] | None = None
    ) -> Plan:
        """Return the plan on the opened fixture (with identities)."""
        return make_plan(self.script, replace(self.wanted, fixture=fixture), earlier or {})


def read_order(text: str) -> Order:
    """Read `UNIT@FIXTURE`.

    Raises
    ------
    UsageError
        If it is not of that form.
    """
    unit, at, fixture = text.partition("@")
    if not (unit and at and fixture):
        raise UsageError(
            msg("--unit {text}: write it as UNIT@FIXTURE, such as S1@fixtures/left.toml", text=text)
        )
    return Order(unit, Path(fixture))


def prepare(
    bench: BenchFolder,
    ledger: Ledger,
    script: Script,
    order: Order,
    when: datetime,
    seed: int | None = None,
) -> Prepared:
    """Check one order in every respect; open nothing, switch nothing.

    Raises
    ------
    LedgerError, FixtureError, ScriptError
        One sentence each: what, where, what to do.
    """
    unit = ledger.find_unit(order.unit)
    sheet = bench.model_sheet(unit.model)
    fixture = read_any_fixture(fixture_file(bench, order.fixture), sheet)
    job_id, described, references = ledger.for_header(unit.tag)
    soak_id = _new_id(bench, ledger, unit.tag, when)
    simulated = bool(fixture.simulated)
    before = seen_by_jobs_before(bench, ledger, described, job_id, simulated=simulated)
    references = _of_others(bench, ledger, described, references=references, simulated=simulated)
    challenge, proved = reference(bench.path, fixture, unit.tag, when)
    wanted = Wanted(
        soak_id=soak_id,
        job_id=job_id,
        unit=described,
        model_sheet=sheet,
        fixture=fixture,
        references=replace(
            references,
            challenge=challenge,
            proved=proved,
            jobs_before=as_reference(before),
            switch_worked=channel_worked(bench, ledger, job_id, simulated=simulated),
            # Frozen: what the claim leaves out later counts for later soaks.
            left_out=tuple(left_out(bench, job_id, sheet)),
        ),
        seed=secrets.randbits(32) if seed is None else seed,
        simulated=simulated,
    )
    prepared = Prepared(
        folder=bench.reports / soak_id,
        script=script,
        wanted=wanted,
        fixture=fixture,
        sheet=sheet,
        warnings=[
            *filter(None, [ledger.mistyped(order.unit)]),
            *ledger.warnings(unit.tag),
            *_came_back(described),
            *to_mind(before),
            *ledger.worn(fixture),
        ],
    )
    header = prepared.plan(fixture).header
    prepared.drivers()
    carried = tries_before(bench, ledger, header)
    return with_references(prepared, replace(wanted.references, carried=carried))


def _of_others(
    bench: BenchFolder,
    ledger: Ledger,
    unit: UnitStated,
    *,
    references: References,
    simulated: bool,
) -> References:
    """Return the references with what units like this one have shown."""
    return replace(
        references,
        pool=pool(bench, ledger, unit, simulated=simulated),
        heat_reference=heat_references(bench, ledger, unit, simulated=simulated),
        start_times=start_times(bench, ledger, unit, simulated=simulated),
    )


def with_references(prepared: Prepared, references: References) -> Prepared:
    """Return it with other references in its header."""
    return replace(prepared, wanted=replace(prepared.wanted, references=references))


def read_any_fixture(path: Path, sheet: ModelSheet | None) -> Fixture:
    """Read a fixture that may be simulated; see `bench.fixture.read_fixture`."""
    return read_fixture(path, sheet, simulated_drivers(read_scene("good"), 0))


def drivers_for(fixture: Fixture, seed: int) -> Drivers:
    """Return the drivers a fixture needs besides the real ones.

    Raises
    ------
    FixtureError
        If it names a scene that there is not.
    """
    if not fixture.simulated:
        return {}
    return drivers_of(_unit_for(fixture, seed))


def _unit_for(fixture: Fixture, seed: int) -> SimulatedUnit:
    scene = read_scene(fixture.simulated)
    return simulated_unit(scene, seed, plugged_in=fixture.switch is None)


def fixture_file(bench: BenchFolder, path: Path) -> Path:
    """Return the fixture file: as given, or in the bench's `fixtures` folder.

    Raises
    ------
    FixtureError
        If there is none.
    """
    inside = bench.path / "fixtures"
    named = [path, bench.path / path, inside / path, inside / f"{path}.toml"]
    first = next((file for file in named if is_file(file)), None)
    if first is None:
        raise FixtureError(
            str(path), "", msg("there is no such fixture; make one with `soak find`")
        )
    return first


def _new_id(bench: BenchFolder, ledger: Ledger, tag: str, when: datetime) -> str:
    """Return an id that no soak has or had: the ledger knows those whose folders are gone."""
    base = f"{tag}-{when:%Y%m%d-%H%M}"
    known = {line.soak_id for line in ledger.soaks(tag)}
    number = 1
    soak_id = base
    while soak_id in known or (bench.reports / soak_id).exists():
        number += 1
        soak_id = f"{base}-{number}"
    return soak_id


def _came_back(unit: UnitStated) -> list[Message]:
    return [
        msg("it came back on {on}: {complaint}", on=str(back.on), complaint=back.complaint)
        for back in unit.came_back
    ]
