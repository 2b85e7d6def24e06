"""What broke a demand first, where the finding's own pointers say so."""

from collections.abc import Callable, Sequence
from typing import TypeVar

from soak.derive.course import Course
from soak.derive.faults import UnitFault
from soak.records import Requirement
from soak.rules.core.verdict import Finding, Verdict
from soak.words import Message, just

T = TypeVar("T")


def first_of(
    judge: Callable[[Requirement, T, Sequence[Course]], Finding],
    kind: str,
    source: str,
    told: Callable[[Message | str], Message] = just,
) -> Callable[[Requirement, T, Course], UnitFault | None]:
    """Return what gives the first thing that a finding that is not met points at, as a fault.

    Parameters
    ----------
    judge : callable
        The rule's own.
    kind, source : str
        As `UnitFault` has them.
    told : callable
        Says by itself what a pointer says under its demand.
    """

    def first(need: Requirement, terms: T, course: Course) -> UnitFault | None:
        finding = judge(need, terms, [course])
        if finding.verdict is not Verdict.NOT_MET or not finding.pointers:
            return None
        at = min(finding.pointers, key=lambda one: one.from_s)
        return UnitFault(at.from_s, at.to_s, kind, told(at.what), source)

    return first
