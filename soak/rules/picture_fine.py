"""Whether the picture keeps its colours, its pixels and its lines."""

from collections.abc import Sequence

from soak.derive import holes
from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.derive.faults import UnitFault
from soak.derive.spans import common, holds, minus, total_s
from soak.quantities import show_duration
from soak.records import Requirement
from soak.rules.core.finding import Value, counted, not_shown, point_at, settle
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding
from soak.statistics import bounds as statistics

CLEAN = "clean"
GAP_S = 2.0
"""Faults closer than this are one: contacts bounce. Common practice."""
_METHOD = "Counted; bounds of the rate per hour after NIST/SEMATECH e-Handbook 8.4.5.1 (chi-square)"


@rule("no tint")
def no_tint(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that no colour lane is lost or stuck more often than `limit`."""
    return _settled(requirement, soaks, per_hour=False)


@rule("no torn")
def no_torn(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that lines are torn or shifted no more often than `limit`."""
    return _settled(requirement, soaks, per_hour=False)


@rule("sparkle per hour")
def sparkle_per_hour(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that sparkle comes no more often than `limit` times an hour."""
    return _settled(requirement, soaks, per_hour=True)


def fine_faults(course: Course, source: str) -> list[UnitFault]:
    """Return the fine faults of one kind while the unit was started, close ones joined."""
    found: list[UnitFault] = []
    for period in holes.periods(course.states(source), course.session_spans, None):
        if period.state == CLEAN or not common([(period.from_s, period.to_s)], course.started):
            continue
        from_s = period.from_s
        if found and from_s - found[-1].to_s <= GAP_S:
            from_s = found.pop().from_s
        text = f"{period.state} ({show_duration(period.to_s - from_s)})"
        found.append(UnitFault(from_s, period.to_s, period.state, text, source))
    return found


def _settled(requirement: Requirement, soaks: Sequence[Course], per_hour: bool) -> Finding:
    allowed, number, seen_s, pointers, covered = requirement.limit or 0.0, 0, 0.0, [], []
    looked = False
    for course in soaks:
        windows = course.windows(requirement.stretch)
        looked = looked or bool(course.states(requirement.quantity))
        here = fine_faults(course, requirement.quantity)
        here = [fault for fault in here if holds(fault.from_s, windows)]
        number += len(here)
        pointers += point_at(course, here)
        unseen = course.unseen("capture")
        covered.append(coverage(course, requirement, unseen))
        seen_s += total_s(minus(common(windows, course.started), unseen))
    if not looked or seen_s <= 0:
        why = "the picture was not looked at closely enough to see it"
        return not_shown(requirement, covered[-1].why or why)
    low, high = statistics.rate(number, seen_s / 3600, requirement.confidence or 0.95)
    value = number / (seen_s / 3600) if per_hour else float(number)
    word = requirement.quantity.rpartition(".")[2]
    because = counted(number, f"time of {word}", f"times of {word}")
    because = f"{because[0].upper()}{because[1:]} in {show_duration(seen_s)}."
    found = Value(value, low, high, allowed - value, _METHOD)
    return settle(requirement, value <= allowed, because, found, covered, pointers)
