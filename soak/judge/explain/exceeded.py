"""The first reading beyond a limit, for tables that say what happened first."""

from collections.abc import Sequence

import numpy as np

from soak.derive.course import Course
from soak.derive.faults import UnitFault, unit_faults
from soak.derive.seen import trace, uninterrupted
from soak.quantities import show_value
from soak.records import Requirement
from soak.rules.rise import rise_over_ambient
from soak.rules.transfer import slow_since_s, speed_kept

_SIGNS = {"at most": 1, "rise at most": 1, "no stall": 1, "at least": -1}

_TOOK = {"rise at most": "rose over ambient by", "no stall": "took"}


def first_beyond(course: Course, requirement: Requirement) -> UnitFault | None:
    """Return the first reading beyond a requirement's limit; None if there is none."""
    if requirement.rule == "speed kept":
        return _slow(course, requirement)
    sign = _SIGNS.get(requirement.rule)
    if sign is None or requirement.limit is None:
        return None
    if requirement.rule == "rise at most":
        rise = rise_over_ambient(requirement, course)
        t_s, value = rise.t_s, rise.rise_k
    else:
        one = trace(course, requirement)
        if requirement.rule == "no stall":
            one = uninterrupted(course, one)
            if not course.stick_proves_unit:
                return None
        t_s, value = one.t_s, one.value
    beyond = np.flatnonzero(sign * (value - requirement.limit) > 0)
    if not len(beyond):
        return None
    when_s, shown = float(t_s[beyond[0]]), show_value(float(value[beyond[0]]), requirement.unit)
    what = _TOOK.get(requirement.rule, "read")
    limit = show_value(requirement.limit, requirement.unit)
    text = f"{requirement.quantity} {what} {shown}, limit {limit}"
    return UnitFault(when_s, when_s, "beyond limit", text, requirement.quantity)


def _slow(course: Course, requirement: Requirement) -> UnitFault | None:
    """Return when the transfer became slow, if the requirement is not met for it."""
    if not course.stick_proves_unit or speed_kept(requirement, [course]).verdict != "not met":
        return None
    since_s = slow_since_s(course, requirement)
    if since_s is None:
        return None
    return UnitFault(since_s, since_s, "slow transfer", "transfer became slow", "stick")


def all_events(course: Course) -> Sequence[UnitFault]:
    """Return the unit's faults and the first reading beyond each limit, in order of time."""
    beyond = [first_beyond(course, own) for own in course.header.requirements]
    found = [*unit_faults(course), *(event for event in beyond if event is not None)]
    return sorted(found, key=lambda event: (event.from_s, event.kind))
