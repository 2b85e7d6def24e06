"""How findings are made, so that the same cases read the same everywhere."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from soak.derive.course import Course
from soak.derive.coverage import Coverage
from soak.derive.faults import UnitFault
from soak.records import Json, Requirement
from soak.rules.core.verdict import Finding, Pointer, Verdict

MOST_POINTERS = 20
"""More places to look than these help nobody; the count stands in the finding's value."""


@dataclass(frozen=True, slots=True)
class Value:
    """What was found.

    Attributes
    ----------
    value, bound_low, bound_high, margin : float or None
        As in `Finding`.
    method : str
        How it was found, with the formula's source.
    """

    value: float | None = None
    bound_low: float | None = None
    bound_high: float | None = None
    margin: float | None = None
    method: str = ""


NOTHING = Value()

NOT_SHOWN = "Not shown: "
"""How the sentence of a finding without enough evidence begins."""


def not_tested(requirement: Requirement, why: str) -> Finding:
    """Say that no instrument could test it."""
    return conclude(requirement, Verdict.NOT_TESTED, f"Not tested: {why}.")


def not_shown(
    requirement: Requirement,
    why: str,
    found: Value = NOTHING,
    pointers: Sequence[Pointer] = (),
    detail: Json | None = None,
) -> Finding:
    """Say that the evidence is not enough."""
    return conclude(requirement, Verdict.NOT_SHOWN, f"{NOT_SHOWN}{why}.", found, pointers, detail)


def conclude(
    requirement: Requirement,
    verdict: Verdict,
    because: str,
    found: Value = NOTHING,
    pointers: Sequence[Pointer] = (),
    detail: Json | None = None,
) -> Finding:
    """Make a finding."""
    return Finding(
        requirement=requirement,
        verdict=verdict,
        value=found.value,
        bound_low=found.bound_low,
        bound_high=found.bound_high,
        margin=found.margin,
        method=found.method,
        because=because,
        pointers=tuple(pointers)[:MOST_POINTERS],
        detail=detail or {},
    )


def settle(
    requirement: Requirement,
    good: bool,
    because: str,
    found: Value,
    covered: Sequence[Coverage],
    pointers: Sequence[Pointer] = (),
    detail: Json | None = None,
) -> Finding:
    """Settle a requirement: a fault counts even with holes, a good result only without.

    Parameters
    ----------
    covered : sequence of Coverage
        Of each soak; one that is enough suffices, pieces of several are never put together.
    """
    detail = {**(detail or {}), "coverage": [one.as_json() for one in covered]}
    if not good:
        return conclude(requirement, Verdict.NOT_MET, because, found, pointers, detail)
    if not any(one.enough for one in covered):
        why = covered[-1].why if covered else "nothing was recorded"
        return not_shown(requirement, why, found, pointers, detail)
    return conclude(requirement, Verdict.MET, because, found, pointers, detail)


def point_at(course: Course, faults: Iterable[UnitFault]) -> list[Pointer]:
    """Return where the faults lie."""
    soak_id = course.header.soak_id
    return [Pointer(soak_id, fault.from_s, fault.to_s, fault.text) for fault in faults]


def counted(number: float, one: str, many: str = "") -> str:
    """Write a count with its word: `"no restart"`, `"1 restart"`, `"3 restarts"`."""
    if number == 1:
        return f"1 {one}"
    return f"{number:g} {many or one + 's'}" if number else f"no {one}"
