"""What broke a demand, where the finding's own pointers say so."""

from collections.abc import Callable, Sequence
from typing import TypeVar

from soak.derive.course import Course
from soak.derive.events.faults import UnitFault
from soak.records import Requirement
from soak.rules.core.verdict import Finding, Verdict
from soak.words import Message, just

T = TypeVar("T")


def pointed_at(
    judge: Callable[[Requirement, T, Sequence[Course]], Finding],
    kind: str,
    source: str,
    told: Callable[[Message | str], Message] = just,
) -> Callable[[Requirement, T, Course], Sequence[UnitFault]]:
    """Return what gives all that a finding that is not met points at, as faults.

    Parameters
    ----------
    judge : callable
        The rule's own.
    kind, source : str
        As `UnitFault` has them; without a source it is the demand's quantity.
    told : callable
        Says by itself what a pointer says under its demand.
    """

    def found(need: Requirement, terms: T, course: Course) -> Sequence[UnitFault]:
        finding = judge(need, terms, [course])
        if finding.verdict is not Verdict.NOT_MET:
            return ()
        where = source or need.quantity
        return [
            UnitFault(at.from_s, at.to_s, kind, text=told(at.what), source=where)
            for at in finding.pointers
        ]

    return found
