"""Whether a measured quantity stays within its limit, and whether the guard cut the power."""

from collections.abc import Sequence

import numpy as np

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.derive.faults import trips
from soak.derive.seen import trace
from soak.quantities import show_duration, show_value
from soak.records import Requirement
from soak.rules.core.bands import SIMPLE, accuracy_of, guarded
from soak.rules.core.finding import Value, counted, not_shown, point_at, settle
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer


@rule("at most")
def at_most(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that the largest reading of a quantity is not above `limit`."""
    return _extreme(requirement, soaks, sign=1)


@rule("at least")
def at_least(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that the smallest reading of a quantity is not below `limit`."""
    return _extreme(requirement, soaks, sign=-1)


def _extreme(requirement: Requirement, soaks: Sequence[Course], sign: int) -> Finding:
    traces = [trace(course, requirement) for course in soaks]
    covered = [
        coverage(course, requirement, one.unseen) for course, one in zip(soaks, traces, strict=True)
    ]
    read = [(course, one) for course, one in zip(soaks, traces, strict=True) if len(one.t_s)]
    if not read:
        return not_shown(requirement, covered[-1].why or "there is no reading")
    if requirement.limit is None:
        return not_shown(requirement, "the requirement gives no limit")
    worst = max(read, key=lambda pair: float(np.max(sign * pair[1].value)))
    at = int(np.argmax(sign * worst[1].value))
    extreme, when_s = float(worst[1].value[at]), float(worst[1].t_s[at])
    word = "highest" if sign > 0 else "lowest"
    shown = show_value(extreme, requirement.unit)
    because = (
        f"The {word} reading was {shown} at {show_duration(when_s)}; "
        f"the limit is {show_value(requirement.limit, requirement.unit)}."
    )
    pointers = [Pointer(worst[0].header.soak_id, when_s, when_s, f"{word}: {shown}")]
    margin = sign * (requirement.limit - extreme)
    detail = {"readings": sum(len(one.t_s) for _, one in read)}
    if not requirement.guarded:
        found = Value(extreme, margin=margin, method=f"{word.capitalize()} reading; {SIMPLE}")
        return settle(requirement, margin >= 0, because, found, covered, pointers, detail)
    accuracy = accuracy_of(worst[0], requirement.quantity)
    return guarded(requirement, extreme, margin, accuracy, because, covered, pointers, detail)


@rule("no trip")
def no_trip(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that the guard never had to cut the power."""
    source = str(requirement.params.get("source") or requirement.quantity)
    allowed, number, pointers, covered = requirement.limit or 0.0, 0, [], []
    for course in soaks:
        windows = course.windows(requirement.stretch)
        # A trip ends its stretch: the mark may come just after the end.
        here = [
            fault
            for fault in trips(course)
            if source in ("", fault.source)
            and any(begin <= fault.from_s <= end + 10 for begin, end in windows)
        ]
        number += len(here)
        pointers += point_at(course, here)
        unseen = trace(course, requirement, source).unseen if source else ()
        covered.append(coverage(course, requirement, unseen))
    found = Value(number, margin=allowed - number, method="Trips counted")
    because = f"{counted(number, 'trip')} of the guard.".capitalize()
    return settle(requirement, number <= allowed, because, found, covered, pointers)
