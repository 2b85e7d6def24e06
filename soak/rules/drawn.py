"""What the unit draws from its supply in one of its working states."""

from collections.abc import Sequence

import numpy as np

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.derive.currents import creep_of, working_spans
from soak.derive.seen import trace
from soak.derive.spans import inside
from soak.quantities import show_value
from soak.records import Json, Requirement
from soak.rules.core.bands import accuracy_of, guarded
from soak.rules.core.finding import not_shown
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer

_FEWEST = 5
"""Fewer readings of a working state show nothing. Our own choice."""


@rule("drawn")
def drawn(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that the median of a working state's readings is not above `limit`; the highest counts.

    Whether it grew while the unit was at work is told beside it.
    """
    working, unit = str(requirement.params["working_state"]), requirement.unit
    found: list[tuple[float, Course, Pointer, int]] = []
    covered = []
    for course in soaks:
        one = trace(course, requirement)
        covered.append(coverage(course, requirement, one.unseen))
        spans = working_spans(course, working, requirement.stretch)
        value = one.value[inside(one.t_s, spans)]
        if len(value) >= _FEWEST:
            middle = float(np.median(value))
            where = (course.header.soak_id, spans[0][0], spans[-1][1])
            pointer = Pointer(*where, show_value(middle, unit))
            found.append((middle, course, pointer, len(value)))
    if not found:
        why = covered[-1].why or f"it was not read long enough {_WHILE[working]}"
        return not_shown(requirement, why)
    middle, course, pointer, readings = max(found, key=lambda one: one[0])
    limit = float(requirement.limit or 0.0)
    because = (
        f"It drew {show_value(middle, unit)} {_WHILE[working]} (median of {readings} readings); "
        f"the limit is {show_value(limit, unit)}.{_grew(course, requirement)}"
    )
    detail: Json = {"working_state": working, "readings": readings}
    accuracy = accuracy_of(course, requirement.quantity)
    margin = limit - middle
    return guarded(requirement, middle, margin, accuracy, because, covered, [pointer], detail)


_WHILE = {"running": "at work", "idle": "doing nothing", "standby": "in its own standby"}


def _grew(course: Course, requirement: Requirement) -> str:
    creep = creep_of(course, requirement.quantity, requirement.confidence or 0.95)
    if requirement.params["working_state"] != "running" or creep is None or not creep.sure:
        return ""
    word = "grew" if creep.per_h > 0 else "fell"
    return f" At work it {word} by {show_value(abs(creep.per_h), requirement.unit)} an hour."
