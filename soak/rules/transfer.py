"""Whether data crosses the unit's port whole, without stalls, and as fast as at first."""

from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.derive.faults import wrong_data
from soak.derive.seen import trace, uninterrupted
from soak.derive.spans import holds
from soak.evidence import Floats
from soak.quantities import show_bytes, show_duration, show_value
from soak.records import Requirement
from soak.rules.core.finding import Value, not_shown, point_at, settle
from soak.rules.core.port import on_units_port
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer

_WRITTEN = "transfer.stick.written"

FEWEST = 5
"""So many chunks on either side make a median worth comparing. Our own choice."""


@rule("no wrong data")
@on_units_port
def no_wrong_data(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that no more than `limit` bytes came back other than they were written."""
    allowed, pointers, covered = requirement.limit or 0.0, [], []
    wrong_bytes, written_bytes, chunks = 0.0, 0.0, 0
    for course in soaks:
        one = trace(course, requirement)
        windows = course.windows(requirement.stretch)
        faults = [fault for fault in wrong_data(course) if holds(fault.from_s, windows)]
        when = np.array([fault.from_s for fault in faults])
        wrong_bytes += float(one.value[np.isin(one.t_s, when)].sum())
        chunks += len(one.t_s)
        written_bytes += float(course.series(_WRITTEN, requirement.stretch)[1].sum())
        pointers += point_at(course, faults)
        covered.append(coverage(course, requirement, one.unseen))
    if not chunks:
        return not_shown(requirement, covered[-1].why or "no data was transferred")
    found = Value(wrong_bytes, margin=allowed - wrong_bytes, method="Wrong bytes counted")
    amount = f"; {show_bytes(written_bytes)} were written" if written_bytes else ""
    because = f"{show_bytes(wrong_bytes)} came back wrong{amount}."
    detail = {"readings": chunks, "written_bytes": written_bytes}
    return settle(requirement, wrong_bytes <= allowed, because, found, covered, pointers, detail)


@rule("no stall")
@on_units_port
def no_stall(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that no chunk took longer than `limit` s."""
    if requirement.limit is None:
        return not_shown(requirement, "the requirement gives no limit")
    traces = [trace(course, requirement) for course in soaks]
    pairs = list(zip(soaks, traces, strict=True))
    covered = [coverage(course, requirement, one.unseen) for course, one in pairs]
    counted = [(course, uninterrupted(course, one)) for course, one in pairs]
    read = [(course, one) for course, one in counted if len(one.t_s)]
    if not read:
        return not_shown(requirement, covered[-1].why or "no data was transferred")
    course, worst = max(read, key=lambda pair: float(pair[1].value.max()))
    at = int(np.argmax(worst.value))
    slowest_s, when_s = float(worst.value[at]), float(worst.t_s[at])
    because = (
        f"The slowest chunk took {show_duration(slowest_s)}; "
        f"{show_duration(requirement.limit)} are allowed."
    )
    pointer = Pointer(course.header.soak_id, when_s - slowest_s, when_s, "slowest chunk")
    margin = requirement.limit - slowest_s
    found = Value(slowest_s, margin=margin, method="Slowest chunk")
    detail = {"chunks": sum(len(one.t_s) for _, one in read)}
    return settle(requirement, margin >= 0, because, found, covered, [pointer], detail)


class _Compared(NamedTuple):
    """The speeds at first and those to be held against them, B/s; shapes (n,) and (m,)."""

    first: Floats
    later_t_s: Floats
    later: Floats


def _compared(course: Course, requirement: Requirement) -> _Compared | None:
    """Return what is compared; None where either side is too short for a median.

    The first speed is that of the soak's first stretch with a transfer: a link that has already
    fallen back when a later stretch begins would else be compared with itself.
    """
    own = trace(course, requirement)
    if not len(own.t_s):
        return None
    first = trace(course, replace(requirement, stretch=_first_stretch(course, requirement)))
    end_s = first.t_s[0] + float(requirement.params.get("first_s", 300.0))
    early, later = first.t_s <= end_s, own.t_s > end_s
    if min(early.sum(), later.sum()) < FEWEST:
        return None
    return _Compared(first.value[early], own.t_s[later], own.value[later])


def _first_stretch(course: Course, requirement: Requirement) -> str:
    """Return the stretch whose transfer came first, of those that read often enough."""
    began: dict[str, float] = {}
    for one in course.header.requirements:
        if one.quantity == requirement.quantity:
            t_s = trace(course, one).t_s
            if len(t_s) >= FEWEST:
                began[one.stretch] = float(t_s[0])
    return min(began, key=lambda name: began[name], default=requirement.stretch)


def slow_since_s(course: Course, requirement: Requirement) -> float | None:
    """Return from when on the speed, a median over a few readings, was too low; else None."""
    compared = _compared(course, requirement)
    if compared is None:
        return None
    least = 0.6 if requirement.limit is None else requirement.limit
    running = np.median(sliding_window_view(compared.later, FEWEST), axis=1)
    slow = np.flatnonzero(running < least * np.median(compared.first))
    return float(compared.later_t_s[slow[0]]) if len(slow) else None


@rule("speed kept")
@on_units_port
def speed_kept(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that the later median speed is at least `limit` times that of the beginning."""
    least = 0.6 if requirement.limit is None else requirement.limit
    ratios, covered, pointers, shown = [], [], [], []
    for course in soaks:
        one = trace(course, requirement)
        covered.append(coverage(course, requirement, one.unseen))
        compared = _compared(course, requirement)
        if compared is None:
            continue
        before, after = float(np.median(compared.first)), float(np.median(compared.later))
        if before <= 0:
            continue
        ratios.append(after / before)
        shown.append(f"{show_value(before, 'B/s')} at first, {show_value(after, 'B/s')} after")
        span = (float(one.t_s[0]), float(one.t_s[-1]))
        pointers.append(Pointer(course.header.soak_id, *span, "transfer speed"))
    if not ratios:
        why = covered[-1].why or "there are too few chunks to compare early with late"
        return not_shown(requirement, why)
    worst = ratios.index(min(ratios))
    margin = ratios[worst] - least
    because = (
        f"Median speed {shown[worst]}: {ratios[worst]:.0%}; at least {least:.0%} are demanded."
    )
    found = Value(ratios[worst], margin=margin, method="Ratio of medians")
    return settle(requirement, margin >= 0, because, found, covered, [pointers[worst]])
