"""What broke demands beside the unit's faults, for tables that say what happened when."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.events.faults import UnitFault, in_order, unit_faults
from soak.judge.judging import rule_of
from soak.records import Requirement


def _beyond(course: Course, requirement: Requirement) -> Sequence[UnitFault]:
    """Return what broke a demand: the first reading beyond a limit, each of what is counted."""
    rule = rule_of(requirement)
    if rule is None or rule.beyond is None:
        return ()
    try:
        return rule.beyond(requirement, rule.terms_of(requirement), course)
    except ValueError:
        return ()


def all_events(course: Course) -> Sequence[UnitFault]:
    """Return the unit's faults and what else broke its demands, in order of time."""
    beyond = [event for own in course.header.requirements for event in _beyond(course, own)]
    return sorted([*unit_faults(course), *beyond], key=in_order)
