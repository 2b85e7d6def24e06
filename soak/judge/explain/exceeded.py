"""The first reading beyond a limit, for tables that say what happened first."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.faults import UnitFault, unit_faults
from soak.judge.judging import rule_of
from soak.records import Requirement


def first_beyond(course: Course, requirement: Requirement) -> UnitFault | None:
    """Return the first reading beyond a requirement's limit; None if there is none."""
    rule = rule_of(requirement)
    if rule is None or rule.beyond is None:
        return None
    try:
        return rule.beyond(requirement, rule.terms_of(requirement), course)
    except ValueError:
        return None


def all_events(course: Course) -> Sequence[UnitFault]:
    """Return the unit's faults and the first reading beyond each limit, in order of time."""
    beyond = [first_beyond(course, own) for own in course.header.requirements]
    found = [*unit_faults(course), *(event for event in beyond if event is not None)]
    return sorted(found, key=lambda event: (event.from_s, event.kind))
