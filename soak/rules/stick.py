"""Whether the stick stayed in sight of the unit's port."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.derive.faults import stick_faults
from soak.derive.spans import common, holds, minus, total_s
from soak.quantities import show_duration
from soak.records import Requirement
from soak.rules.core.finding import Value, counted, not_shown, point_at, settle
from soak.rules.core.port import on_units_port
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding
from soak.statistics import bounds as statistics


@rule("stick stayed")
@on_units_port
def stick_stayed(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that the stick never went while the unit had power and was started."""
    allowed, number, seen_s, pointers, covered = requirement.limit or 0.0, 0, 0.0, [], []
    for course in soaks:
        windows = course.windows(requirement.stretch)
        here = [fault for fault in stick_faults(course) if holds(fault.from_s, windows)]
        number += len(here)
        pointers += point_at(course, here)
        unseen = course.unseen("stick", frozenset({"gone"}))
        covered.append(coverage(course, requirement, unseen))
        seen_s += total_s(minus(common(windows, course.started), unseen))
    if seen_s <= 0 and not number:
        why = "the stick was never seen while the unit was started"
        return not_shown(requirement, covered[-1].why or why)
    confidence = requirement.confidence or 0.95
    low, high = statistics.rate(number, seen_s / 3600, confidence) if seen_s else (None, None)
    because = f"{counted(number, 'loss', 'losses')} of the stick in {show_duration(seen_s)}."
    method = "Losses counted; bounds of the rate per hour after NIST/SEMATECH e-Handbook 8.4.5.1"
    found = Value(number, low, high, allowed - number, method)
    because = because[0].upper() + because[1:]
    return settle(requirement, number <= allowed, because, found, covered, pointers)
