"""What happened when, as plain data for charts, tables and reports."""

from collections.abc import Sequence

from soak.derive.course import course_of
from soak.derive.events.faults import UnitFault
from soak.evidence import Evidence
from soak.judge.explain.exceeded import all_events


def events(evidence: Evidence) -> Sequence[UnitFault]:
    """Return what speaks against the unit, in order of time."""
    return all_events(course_of(evidence))


def first_event(soaks: Sequence[Evidence]) -> tuple[str, UnitFault] | None:
    """Return soak id and the first thing that speaks against the unit; None if nothing does."""
    for soak in soaks:
        course = course_of(soak)
        faults = all_events(course)
        if faults:
            return course.header.soak_id, faults[0]
    return None
