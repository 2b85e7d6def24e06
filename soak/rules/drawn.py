"""What the unit draws from its supply in one of its phases."""

from collections.abc import Sequence

import numpy as np

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.derive.currents import creep_of, phase_spans
from soak.derive.seen import trace
from soak.derive.spans import inside
from soak.quantities import show_value
from soak.records import Json, Requirement
from soak.rules.core.bands import accuracy_of, guarded
from soak.rules.core.finding import not_shown
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer

_FEWEST = 5
"""Fewer readings of a phase show nothing. Our own choice."""


@rule("drawn")
def drawn(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that the median of a phase's readings is not above `limit`, the highest of all soaks.

    Whether it grew while the unit was at work is told beside it.
    """
    phase, unit = str(requirement.params["phase"]), requirement.unit
    found: list[tuple[float, Course, Pointer, int]] = []
    covered = []
    for course in soaks:
        one = trace(course, requirement)
        covered.append(coverage(course, requirement, one.unseen))
        spans = phase_spans(course, phase, requirement.stretch)
        value = one.value[inside(one.t_s, spans)]
        if len(value) >= _FEWEST:
            middle = float(np.median(value))
            where = (course.header.soak_id, spans[0][0], spans[-1][1])
            pointer = Pointer(*where, show_value(middle, unit))
            found.append((middle, course, pointer, len(value)))
    if not found:
        why = covered[-1].why or f"it was not read long enough {_WHILE[phase]}"
        return not_shown(requirement, why)
    middle, course, pointer, readings = max(found, key=lambda one: one[0])
    limit = float(requirement.limit or 0.0)
    because = (
        f"It drew {show_value(middle, unit)} {_WHILE[phase]} (median of {readings} readings); the "
        f"limit is {show_value(limit, unit)}.{_grew(course, requirement)}"
    )
    detail: Json = {"phase": phase, "readings": readings}
    accuracy = accuracy_of(course, requirement.quantity)
    margin = limit - middle
    return guarded(requirement, middle, margin, accuracy, because, covered, [pointer], detail)


_WHILE = {"running": "at work", "idle": "doing nothing", "standby": "in its own standby"}


def _grew(course: Course, requirement: Requirement) -> str:
    creep = creep_of(course, requirement.quantity, requirement.confidence or 0.95)
    if requirement.params["phase"] != "running" or creep is None or not creep.sure:
        return ""
    word = "grew" if creep.per_h > 0 else "fell"
    return f" At work it {word} by {show_value(abs(creep.per_h), requirement.unit)} an hour."
