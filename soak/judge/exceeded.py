"""The first reading beyond a limit, for tables that say what happened first."""

from collections.abc import Sequence

import numpy as np

from soak.judge.derive import Course
from soak.judge.faults import UnitFault, unit_faults
from soak.judge.rules.rise import rise_over_ambient
from soak.judge.seen import trace
from soak.quantities import show_value
from soak.records import Requirement

_SIGNS = {"at most": 1, "rise at most": 1, "at least": -1}


def first_beyond(course: Course, requirement: Requirement) -> UnitFault | None:
    """Return the first reading beyond a requirement's limit; None if there is none."""
    sign = _SIGNS.get(requirement.rule)
    if sign is None or requirement.limit is None:
        return None
    if requirement.rule == "rise at most":
        rise = rise_over_ambient(requirement, course)
        t_s, value = rise.t_s, rise.rise_k
    else:
        one = trace(course, requirement)
        t_s, value = one.t_s, one.value
    beyond = np.flatnonzero(sign * (value - requirement.limit) > 0)
    if not len(beyond):
        return None
    when_s, shown = float(t_s[beyond[0]]), show_value(float(value[beyond[0]]), requirement.unit)
    what = "rose over ambient by" if requirement.rule == "rise at most" else "read"
    limit = show_value(requirement.limit, requirement.unit)
    text = f"{requirement.quantity} {what} {shown}, limit {limit}"
    return UnitFault(when_s, when_s, "beyond limit", text, requirement.quantity)


def all_events(course: Course) -> Sequence[UnitFault]:
    """Return the unit's faults and the first reading beyond each limit, in order of time."""
    beyond = [first_beyond(course, own) for own in course.header.requirements]
    found = [*unit_faults(course), *(event for event in beyond if event is not None)]
    return sorted(found, key=lambda event: (event.from_s, event.kind))
