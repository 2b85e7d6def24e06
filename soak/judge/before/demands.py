"""Demands that are met or not as a whole, such as a limit of heat: what meets them again."""

from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from soak.derive.course import Course
from soak.derive.events.faults import trip_faults
from soak.derive.heat import ambient_of
from soak.derive.jobs_before import Demand, SoakBefore
from soak.derive.seeing.coverage import ROUNDING_S
from soak.derive.spans import common, inside, total_s
from soak.judge.judging import demanded, judge_requirement, rule_of, weight_of
from soak.names import source_named
from soak.records import Requirement, requirement_from_json, to_json
from soak.rules.core.rule import Section, Weight
from soak.rules.core.verdict import Verdict
from soak.words import Message, msg

NEARLY = 0.98
"""A time or a limit of a soak is met by so much of it: holes that a script allows are no less. Our
own choice."""

AS_HOT_WITHIN_K = 1.0
"""Rooms whose mean differs by no more are as hot as one another. Our own choice."""


def demands_of(course: Course) -> Iterator[Demand]:
    """Yield a soak's own demands that it met or did not, beside what is counted one by one.

    What a hand puts right is asked anew each time; what follows from another fault says no more.
    """
    tripped = {fault.source for fault in trip_faults(course)}
    for need in course.header.requirements:
        rule = rule_of(need)
        if rule is None or rule.failures is not None:
            continue
        finding = judge_requirement(need, [course])
        if weight_of(finding) in (Weight.BY_HAND, Weight.FOLLOWS):
            continue
        if finding.verdict is Verdict.NOT_MET:
            tripped.discard(need.quantity)
        if finding.verdict in (Verdict.MET, Verdict.NOT_MET):
            yield Demand(
                requirement=to_json(need),
                source=need.quantity,
                met=finding.verdict is Verdict.MET,
                timed=rule.section is not Section.HAND,
                functions=tuple(sorted(need.shows_repair)),
                **_watched(course, need.stretch, heat=rule.section is Section.HEAT),
            )
    yield from (_trip(course, source) for source in sorted(tripped))


def _trip(course: Course, source: str) -> Demand:
    """Return a trip of the guard that no demand spoke of."""
    about = [need for need in course.header.requirements if need.quantity == source]
    functions = {name for need in about for name in need.shows_repair}
    return Demand(
        requirement={},
        source=source,
        met=False,
        functions=tuple(sorted(functions)),
        **_watched(course, "", heat=True),
    )


def _watched(course: Course, stretch: str, *, heat: bool) -> dict[str, Any]:
    on = common(course.windows(stretch), course.power)
    detail: dict[str, Any] = {"lasted_s": round(total_s(on), 3)}
    ambient = ambient_of(course.header.fixture) if heat else ""
    if ambient:
        t_s, degc = course.series(ambient)
        here = inside(t_s, on)
        if here.any():
            detail["ambient_degc"] = round(float(np.mean(degc[here])), 2)
    return detail


def requirement_of(demand: Demand) -> Requirement | None:
    """Return the requirement of a demand; None for a trip that none spoke of."""
    return requirement_from_json(demand.requirement) if demand.requirement else None


def same(one: Demand, other: Demand) -> bool:
    """Tell whether two demands are about the same thing, whatever their limits and stretches."""
    return one.source == other.source and _about(one) == _about(other)


def _about(demand: Demand) -> tuple[Any, ...]:
    need = requirement_of(demand)
    if need is None:
        return ()
    rule = rule_of(need)
    places = sorted((key, one) for key, one in need.params.items() if isinstance(one, str))
    return (rule and rule.name, need.check, *places)


def answers(met: Demand, before: Demand) -> bool:
    """Tell whether a demand that was met since outlives one that was not met before.

    It does where it is the same one, its limit is no looser, and it was watched for as long; for
    heat in a room as hot. A trip is outlived by any demand on heat at its spot.
    """
    if not met.met:
        return False
    if before.requirement:
        alike = same(met, before) and _no_looser(met, before)
    else:
        alike = met.source == before.source and _of_heat(met)
    long_enough = met.lasted_s >= NEARLY * before.lasted_s - ROUNDING_S
    return alike and (long_enough or not before.timed) and _as_hot(met, before)


def _of_heat(demand: Demand) -> bool:
    need = requirement_of(demand)
    rule = rule_of(need) if need is not None else None
    return rule is not None and rule.section is Section.HEAT


def _no_looser(met: Demand, before: Demand) -> bool:
    new = requirement_of(met)
    old = requirement_of(before)
    rule = rule_of(new) if new is not None else None
    if new is None or old is None or rule is None or old.limit is None:
        return True
    return new.limit is not None and rule.reads.side.value * (old.limit - new.limit) >= 0


def _as_hot(met: Demand, before: Demand) -> bool:
    if before.ambient_degc is None:
        return True
    return met.ambient_degc is not None and (
        met.ambient_degc >= before.ambient_degc - AS_HOT_WITHIN_K
    )


def words_of(demand: Demand) -> Message:
    """Say what is demanded."""
    need = requirement_of(demand)
    if need is None:
        return msg(
            "The guard never has to cut the power for {source}", source=source_named(demand.source)
        )
    return demanded(need)


def only_needed(soaks: Iterable[SoakBefore]) -> list[SoakBefore]:
    """Leave out what was met wherever it was demanded: a header need not keep that."""
    soaks = list(soaks)
    failed = [demand for soak in soaks for demand in soak.demands if not demand.met]

    def needed(one: Demand) -> bool:
        return not one.met or any(
            same(one, other) or (not other.requirement and one.source == other.source)
            for other in failed
        )

    return [replace(before, demands=tuple(filter(needed, before.demands))) for before in soaks]
