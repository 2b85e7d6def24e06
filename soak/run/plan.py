"""The plan of one soak: everything resolved before anything starts."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from soak.checks.base import Check, Done, SaysTerms, asks_person, needed
from soak.errors import ScriptError
from soak.frozen.fixture import Fixture
from soak.frozen.references import References
from soak.frozen.sheet import ModelSheet
from soak.frozen.unit import UnitStated
from soak.instruments import WATCHES, none_of
from soak.judge.contradiction import contradictions
from soak.quantities import Quantity
from soak.records import FORMAT, Header, Json, Role
from soak.run.guard.step import Guarding
from soak.run.script import Script, Stretch, all_requirements, build_checks, time_keepers
from soak.states import lost, start_limit
from soak.terms import UnitTerms, params_of, terms_from
from soak.words import Message, msg


@dataclass(frozen=True, slots=True)
class StretchPlan:
    """One stretch, placed on a fixture.

    Attributes
    ----------
    checks : sequence of Check
        Those that this fixture can run.
    skipped : mapping of check name to reason
        Those that it cannot, so their requirements are not tested.
    done : mapping of check name to Done
        What earlier sessions of this soak already have.
    finished : bool
        Whether an earlier session has finished it.
    """

    stretch: Stretch
    checks: Sequence[Check]
    skipped: Mapping[str, Message]
    done: Mapping[str, Done]
    finished: bool = False

    @property
    def needs_power(self) -> bool:
        """Whether the unit must be on: some check watches an instrument, or a person the unit."""
        return any(check.needs or check.sources() or asks_person(check) for check in self.checks)

    @property
    def expected_s(self) -> float:
        """How long the stretch takes if all goes well, s."""
        return max([self.stretch.lasts_s, *(check.expected_s() for check in self.checks)])

    @property
    def holds_switch(self) -> bool:
        """Whether a check does the switching itself."""
        return any(check.holds_switch for check in self.checks)


@dataclass(frozen=True, slots=True)
class Plan:
    """One soak, ready to run."""

    header: Header
    stretches: Sequence[StretchPlan]
    guarding: Mapping[str, Guarding]
    channel: str
    not_after_s: float


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a plan is made from; see `records.Header` for the shapes."""

    soak_id: str
    job_id: str
    unit: UnitStated
    model_sheet: ModelSheet
    fixture: Fixture
    references: References
    seed: int
    simulated: bool

    @classmethod
    def again(cls, header: Header) -> "Wanted":
        """Return what the plan of a soak was made from, by its own header."""
        return cls(
            header.soak_id,
            header.job_id,
            header.unit,
            model_sheet=header.model_sheet,
            fixture=header.fixture,
            references=header.references,
            seed=header.seed,
            simulated=header.simulated,
        )


def make_plan(script: Script, wanted: Wanted, earlier: Mapping[str, Mapping[str, Any]]) -> Plan:
    """Resolve a script on a fixture.

    Parameters
    ----------
    earlier : mapping of stretch name to what earlier sessions have
        `{"finished": bool, "done": {check: Done}}`; empty for a first start.

    Raises
    ------
    ScriptError
        If the script contradicts the fixture or the model sheet.
    """
    fixture = wanted.fixture
    sheet = wanted.model_sheet
    requirements = tuple(all_requirements(script, fixture, sheet))
    wired = fixture.roles
    stretches = [
        _place(script, stretch, wanted, wired=wired, earlier=earlier.get(stretch.name, {}))
        for stretch in script.stretches
    ]
    header = Header(
        format=FORMAT,
        soak_id=wanted.soak_id,
        job_id=wanted.job_id,
        unit=wanted.unit,
        model_sheet=sheet,
        script=script.planned(),
        fixture=fixture,
        quantities=_quantities(fixture, stretches),
        requirements=requirements,
        references=wanted.references,
        seed=wanted.seed,
        simulated=wanted.simulated,
        terms=_terms(script, wanted),
    )
    wrong = list(contradictions(header.requirements, script.head.not_after))
    if wrong:
        raise ScriptError.of(script.file, wrong)
    channel = "" if fixture.switch is None else fixture.switch.channel
    return Plan(
        header,
        stretches,
        _guarding(fixture, sheet),
        channel=channel,
        not_after_s=script.head.not_after,
    )


def _terms(script: Script, wanted: Wanted) -> Json:
    """Return what counts as lost, and how long a start may take, where no demand says otherwise."""
    fixture = wanted.fixture
    sheet = wanted.model_sheet
    detail: dict[str, Any] = {
        "bad": sorted(lost("capture", sheet)),
        "usual_start_s": sheet.start_s,
    }
    checks = [
        check
        for stretch in script.stretches
        for check in build_checks(script, stretch, fixture, sheet)
    ]
    for check in reversed(checks):  # the first that says it counts
        if isinstance(check, SaysTerms):
            detail |= check.unit_terms()
    like = wanted.references.start_times
    limit = start_limit(sheet, detail.get("start_limit_s"), like)
    detail |= {
        "start_limit_s": limit.limit_s,
        "start_limit_from": limit.says,
        "start_limit_of": limit.of or None,
    }
    return params_of(terms_from(UnitTerms, detail))


def _place(
    script: Script,
    stretch: Stretch,
    wanted: Wanted,
    wired: frozenset[Role],
    earlier: Mapping[str, Any],
) -> StretchPlan:
    checks = build_checks(script, stretch, wanted.fixture, wanted.model_sheet)
    keepers = time_keepers(stretch, checks)
    missing = {check.name: (needed(check) | keepers) - wired for check in checks}
    return StretchPlan(
        stretch=stretch,
        checks=[check for check in checks if not missing[check.name]],
        skipped={
            name: msg("{instruments} is wired", instruments=none_of(roles))
            for name, roles in missing.items()
            if roles
        },
        done=earlier.get("done", {}),
        finished=bool(earlier.get("finished", False)),
    )


def wired_quantities(fixture: Fixture) -> dict[str, Quantity]:
    """Return what the instruments of a fixture measure whatever the checks, by name."""
    quantities = {
        f"probe.{name}": Quantity(
            f"probe.{name}",
            wired.unit,
            f"probe.{name}",
            resolution=wired.resolution,
            accuracy=wired.accuracy,
        )
        for name, wired in fixture.probes.items()
    }
    for role in fixture.roles & WATCHES.keys():
        units = {"speed": "Mb/s", **dict.fromkeys(WATCHES[role].counts, "1")}
        names = {f"{role}.{name}": unit for name, unit in units.items()}
        quantities |= {name: Quantity(name, unit, role) for name, unit in names.items()}
    return quantities


def _quantities(fixture: Fixture, stretches: Sequence[StretchPlan]) -> tuple[Quantity, ...]:
    wired = wired_quantities(fixture)
    for stretch in stretches:
        for check in stretch.checks:
            wired |= {quantity.name: quantity for quantity in check.quantities()}
    return tuple(wired.values())


def _guarding(fixture: Fixture, sheet: ModelSheet) -> Mapping[str, Guarding]:
    guards: dict[str, Guarding] = {}
    for name, wired in fixture.probes.items():
        if wired.guards:
            spot = sheet.spots.get(wired.spot)
            trip_degc = None if spot is None else spot.trip_degc
            source = f"probe.{name}"
            guards[source] = Guarding(source, trip_degc, "" if spot is None else spot.text)
    return guards
