"""What a script will have shown if all goes well, how long it takes, and what it cannot show."""

import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from soak.checks.by_hand import ByHand, ByHandSettings
from soak.desk.bench_folder import BenchFolder
from soak.desk.forecast.explaining_picture import TINT, colours_told, rests_told
from soak.desk.forecast.explaining_plan import Planned, plan_shown, plan_told
from soak.desk.forecast.explaining_rates import allowed_data, allowed_told
from soak.desk.orders import fixture_file, read_any_fixture
from soak.frozen.fixture import Fixture
from soak.frozen.references import References
from soak.frozen.sheet import Function, ModelSheet
from soak.frozen.unit import UnitStated
from soak.frozen.wiring import ROLE_SETTINGS
from soak.judge import overall
from soak.judge.judging import demanded as demand_said
from soak.judge.judging import rule_of
from soak.names import named
from soak.records import Json, Requirement
from soak.rules.core.reads import ByPlan
from soak.rules.core.rule import Bounds
from soak.run.plan import Plan, StretchPlan, Wanted, make_plan
from soak.run.script import Script, find_script, read_script
from soak.statistics.bounds import rate_at_most, share_at_most
from soak.statistics.screening import SOURCE, strength_of_cycles, strength_of_steady_heat
from soak.words import (
    Amount,
    Data,
    Message,
    Number,
    Output,
    Percent,
    begin,
    counted,
    in_brackets,
    indented,
    joined,
    lines_of,
    msg,
)

_TOLD: Json = {
    "switch": {"channel": "", "sets_voltage": True},
    "stick": {"path": "through"},
    "load": {"current_a": 10.0},  # the largest there is: no check finds it too weak
}
"""What checks ask of the wiring before they run."""
_SUPPLY: Json = {"driver": "", "unit": "A", "spot": "", "at_port": ""}

ANYTHING = msg("a fixture with everything wired")
EVERYTHING = Fixture.of_json(
    {
        "name": str(ANYTHING),
        **{
            role: {"supply": _SUPPLY} if kind.named else {"driver": "", **_TOLD.get(role, {})}
            for role, kind in ROLE_SETTINGS.items()
        },
    }
)
"""What a script is explained on where no fixture is named."""

NO_MODEL = ModelSheet(model="no model named", picture_when_on="still", start_s=20.0, functions={})

_KINDS = ("warm", "cold")
_STARTS_OF: Mapping[str, Callable[[int], Message]] = {
    "warm": lambda count: counted(count, "{count} warm start", "{count} warm starts"),
    "cold": lambda count: counted(count, "{count} cold start", "{count} cold starts"),
}
CYCLES = 8
RISE_K = 30.0
RATES_K_PER_MIN = (1.0, 3.0, 5.0)
"""Compared with so many heat-and-cool cycles of this range at these rates."""


@dataclass(frozen=True, slots=True)
class Shown:
    """What one stretch will have shown if all goes well.

    Attributes
    ----------
    lasts_s : float
        How long it takes, s.
    starts : mapping of kind to (starts, bound of the failed share)
        Of the checks that this fixture can run.
    quiet_s : float
        Time watched without switching, s.
    one_in_s : float or None
        Less than one dropout in so long, on the whole, s.
    skipped : mapping of check to reason
        What this fixture cannot run.
    by_person : sequence of Message
        What a person judges there, and no instrument.
    plan : Planned or None
        The sequential plan that may end it early; then starts and hours have no other bound.
    """

    number: int
    name: str
    lasts_s: float
    attended: bool
    starts: Mapping[str, tuple[int, float]]
    quiet_s: float
    one_in_s: float | None
    skipped: Mapping[str, Message]
    by_person: Sequence[Message] = ()
    plan: Planned | None = None


def explain(bench_path: Path, file: str, fixture: str, model: str, *, as_json: bool) -> Output:
    """Explain a script, on a fixture and a model if they are named.

    Raises
    ------
    ScriptError, FixtureError
        If a file cannot be used.
    """
    bench = BenchFolder(bench_path)
    script = read_script(find_script(file, bench.path))
    sheet = bench.model_sheet(model) if model else unnamed_model(script)
    wired = EVERYTHING
    if fixture:
        wired = read_any_fixture(fixture_file(bench, Path(fixture)), sheet if model else None)
    plan = planned_on(wired, script, sheet)
    shown = _all_shown(script, plan)
    heat = _heat(shown)
    if as_json:
        return Data(json.dumps(_data(script, plan, shown, heat), indent=2, allow_nan=False))
    return lines_of(_lines(script, plan, shown, heat, chosen=bool(fixture)))


def in_short(script: Script, plan: Plan) -> tuple[list[Message], list[Message]]:
    """Return what a script will have shown if all goes well, and what it cannot show."""
    shown = _all_shown(script, plan)
    told = [line for part in shown if part.starts or part.one_in_s for line in _told(part)]
    return told, _cannot(plan, shown)


def _all_shown(script: Script, plan: Plan) -> list[Shown]:
    level = script.head.confidence
    return [_shown(number, part, level) for number, part in enumerate(plan.stretches, 1)]


def unnamed_model(script: Script) -> ModelSheet:
    """Return a model that has whatever functions the script's cards name."""
    asked = {
        card.function: Function(text=card.function, check=ByHand.name)
        for stretch in script.stretches
        for settings in stretch.checks.values()
        if isinstance(settings, ByHandSettings)
        for card in settings.cards.values()
    }
    return NO_MODEL.model_copy(update={"functions": asked})


def planned_on(fixture: Fixture, script: Script, sheet: ModelSheet) -> Plan:
    """Return the plan of a script on a fixture, of no unit in particular."""
    unit = UnitStated(model=sheet.model)
    wanted = Wanted(
        soak_id="",
        job_id="",
        unit=unit,
        model_sheet=sheet,
        fixture=fixture,
        references=References(),
        seed=0,
        simulated=False,
    )
    return make_plan(script, wanted, {})


def _shown(number: int, part: StretchPlan, confidence: float) -> Shown:
    stretch = part.stretch
    judged = _judged_by_person(part)
    runs = {check.name for check in part.checks} - {need.check for need in judged}
    cycles = stretch.checks.get("power_cycles") if "power_cycles" in runs else None
    counts = {kind: int(getattr(cycles, kind, 0)) for kind in _KINDS}
    starts = {
        kind: (count, share_at_most(0, count, confidence))
        for kind, count in counts.items()
        if count and stretch.plan is None
    }
    planned = plan_shown(part, confidence)
    watched = "picture" in runs and not starts and stretch.plan is None
    quiet_s = stretch.lasts_s if watched else 0.0
    one_in_s = 1 / rate_at_most(0, quiet_s, confidence) if quiet_s else None
    return Shown(
        number=number,
        name=stretch.name,
        lasts_s=planned.longest_s if planned else part.expected_s,
        attended=stretch.attended,
        starts=starts,
        quiet_s=quiet_s,
        one_in_s=one_in_s,
        skipped=part.skipped,
        by_person=[begin(demand_said(need)) for need in judged],
        plan=planned,
    )


def _judged_by_person(part: StretchPlan) -> list[Requirement]:
    needs = [need for check in part.checks for need in check.requirements()]
    return [need for need in needs if (rule := rule_of(need)) and rule.by_person]


def _heat(shown: Sequence[Shown]) -> dict[str, Any]:
    """Compare the script's heat with heat-and-cool cycles."""
    cycles = sum(part.starts.get("cold", (0, 0.0))[0] for part in shown)
    steady_h = sum(part.lasts_s for part in shown if "cold" not in part.starts) / 3600
    steady = strength_of_steady_heat(RISE_K, steady_h)
    spots = []
    for rate in RATES_K_PER_MIN:
        own = 1 - (1 - steady) * (1 - strength_of_cycles(RISE_K, rate, cycles))
        other = strength_of_cycles(RISE_K, rate, CYCLES)
        spots.append({"rate_k_per_min": rate, "script": own, "cycles": other})
    return {"cycles": cycles, "steady_h": steady_h, "rise_k": RISE_K, "at": spots}


def _judged(plan: Plan) -> list[Requirement]:
    """Return the requirements that are judged: their check runs, what they need is wired."""
    runs = {(part.stretch.name, check.name) for part in plan.stretches for check in part.checks}
    wired = plan.header.fixture.roles
    return [
        need
        for need in plan.header.requirements
        if (need.stretch, need.check) in runs and need.needs <= wired
    ]


def _bounded(plan: Plan) -> list[Requirement]:
    """Return the requirements that will state a bound if all goes well."""
    by_plan = {part.stretch.name for part in plan.stretches if part.stretch.plan}
    return [
        need
        for need in _judged(plan)
        if need.confidence is not None and _states_a_bound(need, planned=need.stretch in by_plan)
    ]


def _states_a_bound(need: Requirement, *, planned: bool) -> bool:
    """Tell whether a rule states a confidence bound; where a plan rules, only the plan's does."""
    rule = rule_of(need)
    if rule is None or rule.bounds not in (Bounds.SHARE, Bounds.RATE):
        return False
    return isinstance(rule.reads, ByPlan) or not planned


def _untested(plan: Plan) -> list[str]:
    """Return the functions of the model that no demand of this plan would show."""
    shown = {name for need in _judged(plan) for name in need.shows_repair}
    functions = plan.header.model_sheet.functions
    return [function.text for name, function in functions.items() if name not in shown]


def _data(
    script: Script, plan: Plan, shown: Sequence[Shown], heat: Mapping[str, Any]
) -> dict[str, Any]:
    together = overall.overall_of_needs(_bounded(plan))
    return {
        "script": script.head.name,
        "confidence": script.head.confidence,
        "expected_s": sum(part.lasts_s for part in shown),
        "not_after_s": script.head.not_after,
        "stretches": [asdict(part) for part in shown],
        "requirements": [need.text for need in plan.header.requirements],
        "overall": asdict(together) if together else None,
        "allowed_by_rate": allowed_data(_judged(plan)),
        "not_exercised": _untested(plan),
        "heat": dict(heat),
    }


def _lines(
    script: Script, plan: Plan, shown: Sequence[Shown], heat: Mapping[str, Any], *, chosen: bool
) -> list[Message]:
    expected_s = sum(part.lasts_s for part in shown)
    attended_s = sum(part.lasts_s for part in shown if part.attended)
    needed = msg("for its questions only")
    if attended_s:
        needed = msg("for the first {time} and the questions", time=Amount(attended_s, "s"))
    lines = [
        joined(": ", [named(script.head.name), named(script.head.about)]),
        msg(
            "On {fixture}: {expected} if all goes well, at most {most}; you are needed {needed}.",
            fixture=plan.header.fixture.name if chosen else ANYTHING,
            expected=Amount(expected_s, "s"),
            most=Amount(script.head.not_after, "s"),
            needed=needed,
        ),
        msg(
            "If all goes well it will have shown (at {level} confidence):",
            level=Percent(script.head.confidence),
        ),
    ]
    if not plan.header.requirements:
        lines.append(indented(msg("nothing: it demands nothing, so no unit is ready by it")))
    for part in shown:
        of = joined(" ", [str(part.number), named(part.name)])
        lines += [indented(joined(": ", [of, line])) for line in _told(part, chosen=chosen)]
    together = overall.overall_of_needs(_bounded(plan))
    if together is not None and together.bounds > 1:
        lines.append(indented(overall.in_words(together)))
    lines += allowed_told(_judged(plan))
    lines += [msg("It cannot show:"), *map(indented, _cannot(plan, shown))]
    lines += [
        msg("Heat, compared with eight heat-and-cool cycles:"),
        *map(indented, _compared(heat)),
    ]
    if not chosen:
        lines.append(
            msg("Name --fixture and --model for what this bench can run and this model has.")
        )
    return lines


def _told(part: Shown, *, chosen: bool = False) -> list[Message]:
    lines = [*plan_told(part.plan)] if part.plan else []
    for kind, (count, bound) in part.starts.items():
        lines.append(
            msg(
                "{starts} worked: fewer than {percent} % of such fail",
                starts=_STARTS_OF[kind](count),
                percent=Number(100 * bound, ".3g"),
            )
        )
    if part.one_in_s:
        lines.append(
            msg(
                "no loss of the picture in {quiet}: less than one in {time} on the whole",
                quiet=Amount(part.quiet_s, "s"),
                time=Amount(part.one_in_s, "s"),
            )
        )
    lines += [
        msg("{demand}: a person judges it, no instrument", demand=need) for need in part.by_person
    ]
    if chosen:
        lines += [
            msg("{check} is not run, {why}", check=check, why=why)
            for check, why in part.skipped.items()
        ]
    return lines or [msg("{time}, no bound of its own", time=Amount(part.lasts_s, "s"))]


def _cannot(plan: Plan, shown: Sequence[Shown]) -> list[Message]:
    lines = []
    warm = max((start[0] for part in shown for start in part.starts.values()), default=0)
    if warm:
        chance = math.exp(warm * math.log1p(-1 / 50))
        lines.append(
            msg(
                "a fault of one start in 50: it gets through {starts} in {chance} of cases",
                starts=warm,
                chance=Percent(chance),
            )
        )
    quiet_h = sum(part.quiet_s for part in shown) / 3600
    if quiet_h:
        lines.append(
            msg(
                "a loss of the picture once in 24 h: it gets through {time} in {chance} of cases",
                time=Amount(quiet_h * 3600, "s"),
                chance=Percent(math.exp(-quiet_h / 24)),
            )
        )
    if any("picture" in part.stretch.checks for part in plan.stretches):
        lines += rests_told(plan.header.model_sheet)
    if any(need.quantity == TINT for need in _judged(plan)):
        lines += colours_told(plan.header.fixture)
    lines.append(msg("the buyer's first month: no night can; only what came back can speak of it"))
    lines += [msg("not exercised: {function}", function=text) for text in _untested(plan)]
    return lines


def _compared(heat: Mapping[str, Any]) -> list[Message]:
    lines = [
        msg(
            "this script: {cycles} of them (cold starts) and {time} warm or hot, taken as {rise} K "
            "above the room",
            cycles=heat["cycles"],
            time=Amount(heat["steady_h"] * 3600, "s"),
            rise=Number(heat["rise_k"], "g"),
        )
    ]
    for spot in heat["at"]:
        lines.append(
            msg(
                "at {rate} K/min it finds {script} of weak joints, eight cycles {cycles}",
                rate=Number(spot["rate_k_per_min"], "g"),
                script=Percent(spot["script"]),
                cycles=Percent(spot["cycles"]),
            )
        )
    return [*lines, in_brackets(SOURCE)]
