"""How findings are made, so that the same cases read the same everywhere."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from soak.derive.course import Course
from soak.derive.events.faults import UnitFault
from soak.derive.seeing.coverage import Coverage
from soak.records import Json, Requirement
from soak.rules.core.verdict import Finding, Pointer, Verdict
from soak.words import NOTHING_SAID, Message, msg, paragraph

MOST_POINTERS = 20
"""More places to look than these help nobody; the count stands in the finding's value. Our own
choice."""


BY_WORD = msg("That the unit was on meanwhile is the operator's word alone; no instrument saw it.")
"""Said of what is met where no instrument saw the unit alive."""


@dataclass(frozen=True, slots=True)
class Value:
    """What was found.

    Attributes
    ----------
    value, bound_low, bound_high, margin, method, over, shorter, judged_by
        As in `Finding`.
    """

    value: float | None = None
    bound_low: float | None = None
    bound_high: float | None = None
    margin: float | None = None
    method: Message = NOTHING_SAID
    over: float | None = None
    shorter: int = 0
    judged_by: Message = NOTHING_SAID


NOTHING = Value()


def not_tested(need: Requirement, why: Message) -> Finding:
    """Say that no instrument could test it."""
    return _made(need, Verdict.NOT_TESTED, msg("Not tested: {why}.", why=why), why=why)


def not_shown(
    need: Requirement,
    why: Message,
    found: Value = NOTHING,
    pointers: Sequence[Pointer] = (),
    detail: Json | None = None,
    *,
    covered: Sequence[Coverage] = (),
    aside: Message = NOTHING_SAID,
) -> Finding:
    """Say that the evidence is not enough.

    Parameters
    ----------
    why : Message
        In small letters and without a full stop: it stands within sentences.
    covered : sequence of Coverage
        Given only where observing longer would show it: what to run again is told from it.
    """
    because = msg("Not shown: {why}.", why=why)
    return _made(
        need,
        Verdict.NOT_SHOWN,
        because,
        found=found,
        pointers=pointers,
        covered=covered,
        why=why,
        aside=aside,
        detail=detail,
    )


def conclude(
    need: Requirement,
    verdict: Verdict,
    because: Message,
    found: Value = NOTHING,
    pointers: Sequence[Pointer] = (),
    detail: Json | None = None,
    *,
    covered: Sequence[Coverage] = (),
    aside: Message = NOTHING_SAID,
) -> Finding:
    """Make a finding.

    Parameters
    ----------
    because : Message
        One or more whole sentences.
    aside : Message
        Whole sentences for the bench only, such as how faults lie in time.
    """
    return _made(
        need,
        verdict,
        because,
        found=found,
        pointers=pointers,
        covered=covered,
        why=NOTHING_SAID,
        aside=aside,
        detail=detail or {},
    )


def settle(
    need: Requirement,
    good: bool,
    because: Message,
    found: Value,
    covered: Sequence[Coverage],
    pointers: Sequence[Pointer] = (),
    detail: Json | None = None,
    *,
    aside: Message = NOTHING_SAID,
) -> Finding:
    """Settle a requirement: a fault counts even with holes, a good result only without.

    Parameters
    ----------
    covered : sequence of Coverage
        Of each soak; one that is enough suffices, pieces of several are never put together.
    """
    if good and not any(coverage.enough for coverage in covered):
        why = covered[-1].why if covered else msg("nothing was recorded")
        return not_shown(
            need, why, found, pointers=pointers, detail=detail, covered=covered, aside=aside
        )
    verdict = Verdict.MET if good else Verdict.NOT_MET
    return conclude(
        need,
        verdict,
        because,
        found=found,
        pointers=pointers,
        covered=covered,
        aside=aside,
        detail=detail,
    )


def _made(
    need: Requirement,
    verdict: Verdict,
    because: Message,
    found: Value = NOTHING,
    pointers: Sequence[Pointer] = (),
    covered: Sequence[Coverage] = (),
    why: Message = NOTHING_SAID,
    aside: Message = NOTHING_SAID,
    detail: Json | None = None,
) -> Finding:
    shown_by = [coverage for coverage in covered if coverage.enough]
    if verdict is Verdict.MET and shown_by and all(seen.by_word for seen in shown_by):
        because = paragraph(because, BY_WORD)
    return Finding(
        requirement=need,
        verdict=verdict,
        value=found.value,
        bound_low=found.bound_low,
        bound_high=found.bound_high,
        margin=found.margin,
        over=found.over,
        shorter=found.shorter,
        method=found.method,
        because=because,
        why=why,
        aside=aside,
        judged_by=found.judged_by,
        pointers=tuple(pointers)[:MOST_POINTERS],
        covered=tuple(covered),
        detail=detail or {},
    )


def point_at(course: Course, faults: Iterable[UnitFault]) -> list[Pointer]:
    """Return where the faults lie."""
    soak_id = course.header.soak_id
    return [Pointer(soak_id, fault.from_s, fault.to_s, fault.text) for fault in faults]
