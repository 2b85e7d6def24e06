"""Whether a USB device stayed at the unit's port, at its full speed, without resets."""

from collections.abc import Sequence
from functools import wraps

import numpy as np

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.derive.faults import link_faults
from soak.derive.spans import common, holds, inside, total_s, touching
from soak.quantities import show_duration
from soak.records import Requirement
from soak.rules.core.finding import Value, counted, not_shown, not_tested, point_at, settle
from soak.rules.core.rule import Rule, rule
from soak.rules.core.verdict import Finding, Pointer
from soak.statistics import bounds as statistics

SUPER_MBPS = 5000.0
"""From here on a link runs over its own pairs of wires: USB 3.0 specification, section 3.1."""

_ELSEWHERE = (
    "the link watches a device at the bench's own port; name the unit's port in the fixture"
)
_NAMES = {1.5: "low speed", 12.0: "full speed", 480.0: "high speed", SUPER_MBPS: "SuperSpeed"}


def at_units_port(judging: Rule) -> Rule:
    """Let a rule judge only soaks in which the link watched a port of the unit."""

    @wraps(judging)
    def judged(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
        own = [course for course in soaks if course.header.fixture.get("link", {}).get("port")]
        return judging(requirement, own) if own else not_tested(requirement, _ELSEWHERE)

    return judged


@rule("link stayed")
@at_units_port
def link_stayed(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that the device never left the port while the unit had power and was started."""
    allowed, number, seen_s, pointers, covered = requirement.limit or 0.0, 0, 0.0, [], []
    for course in soaks:
        windows = course.windows(requirement.stretch)
        here = [fault for fault in link_faults(course) if holds(fault.from_s, windows)]
        number += len(here)
        pointers += point_at(course, here)
        unseen = course.unseen("link", frozenset({"gone"}))
        covered.append(coverage(course, requirement, unseen))
        there = [(p.from_s, p.to_s) for p in course.periods("link") if p.state == "seen"]
        seen_s += total_s(common(common(windows, course.started), there))
    if seen_s <= 0 and not number:
        why = "the device was never seen at the port while the unit was started"
        return not_shown(requirement, covered[-1].why or f"{why}{_why(soaks[-1])}")
    confidence = requirement.confidence or 0.95
    low, high = statistics.rate(number, seen_s / 3600, confidence) if seen_s else (None, None)
    because = f"{counted(number, 'leaving')} of the device in {show_duration(seen_s)}."
    method = "Leavings counted; bounds of the rate per hour after NIST/SEMATECH e-Handbook 8.4.5.1"
    found = Value(number, low, high, allowed - number, method)
    because = because[0].upper() + because[1:]
    return settle(requirement, number <= allowed, because, found, covered, pointers)


def _why(course: Course) -> str:
    """Return what the link said of a device that was never there."""
    said = next((state.detail.get("why") for state in course.states("link")), None)
    return f" ({said})" if said else ""


@rule("at least speed")
@at_units_port
def at_least_speed(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that the link never ran at less than `limit` Mb/s, arrivals left aside."""
    limit, pointers, covered = requirement.limit or 0.0, [], []
    speeds: list[float] = []
    for course in soaks:
        unseen = course.blind("link")
        covered.append(coverage(course, requirement, unseen))
        for from_s, to_s, speed in _speeds(course, requirement):
            speeds.append(speed)
            if speed < limit:
                told = f"{_name(speed)} for {show_duration(to_s - from_s)}"
                pointers.append(Pointer(course.header.soak_id, from_s, to_s, told))
    if not speeds:
        return not_shown(requirement, covered[-1].why or "no speed of the link was ever read")
    lowest = min(speeds)
    found = Value(lowest, margin=lowest - limit, method="Lowest negotiated signalling rate")
    because = _because(speeds, limit)
    detail = {"speeds_mbps": sorted(set(speeds)), "slow": len(pointers)}
    return settle(requirement, lowest >= limit, because, found, covered, pointers, detail)


def _speeds(course: Course, requirement: Requirement) -> list[tuple[float, float, float]]:
    """Return (from, to, Mb/s) of each time the link held a speed within the stretch."""
    t_s, value = course.series("link.speed")
    settles_s = float(requirement.params.get("settles_s", 0.0))
    there = [(p.from_s, p.to_s) for p in course.periods("link") if p.state == "seen"]
    windows = course.windows(requirement.stretch)
    found: list[tuple[float, float, float]] = []
    for begin_s, end_s in there:
        chosen = (t_s >= begin_s) & (t_s < end_s)
        times, speeds = t_s[chosen], value[chosen]
        starts = np.flatnonzero(np.diff(speeds, prepend=np.nan) != 0)
        for at in starts:
            later = starts[starts > at]
            to_s = float(times[later[0]]) if len(later) else end_s
            found.append((float(times[at]), to_s, float(speeds[at])))
    return [
        (max(from_s, part[0]), min(to_s, part[1]), speed)
        for from_s, to_s, speed in found
        if to_s - from_s >= settles_s
        for part in common([(from_s, to_s)], windows)
    ]


def _because(speeds: Sequence[float], limit: float) -> str:
    lowest, highest = min(speeds), max(speeds)
    if lowest >= limit:
        return f"The link ran at {_name(lowest)} or more."
    hint = ""
    if limit >= SUPER_MBPS > lowest:
        hint = ": look at the SuperSpeed pairs"
    elif limit >= 480.0 > lowest:
        hint = ": look at the data pair and its contacts"
    if highest >= limit:
        return f"It fell back to {_name(lowest)}{hint}."
    return f"It never ran faster than {_name(highest)}{hint}."


def _name(speed: float) -> str:
    name = _NAMES.get(speed, "SuperSpeed" if speed > SUPER_MBPS else "")
    return f"{name} ({speed:g} Mb/s)" if name else f"{speed:g} Mb/s"


@rule("link events")
@at_units_port
def link_events(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that no more than `limit` resets, failures or over-currents were counted."""
    allowed, number, pointers, covered, cannot = requirement.limit or 0.0, 0.0, [], [], ""
    what = requirement.quantity.removeprefix("link.")
    for course in soaks:
        identity = course.header.fixture["link"].get("identity", {})
        why = identity.get("cannot", {}).get(what, "")
        t_s, value = course.series(requirement.quantity)
        if why or not len(t_s):  # a link that watches for it says so by a first reading of none
            cannot = why
            continue
        windows = common(course.windows(requirement.stretch), course.started)
        hands = [hole for hole in course.told_holes if hole.to_s > hole.from_s]
        apart = [(hole.from_s, hole.to_s) for hole in hands if hole.source in ("", "link")]
        chosen = inside(t_s, windows) & (value > 0)
        for at in np.flatnonzero(chosen):
            when_s = float(t_s[at])
            if touching(when_s - 1, when_s + 1, [*apart, *course.blind("link")]) is None:
                number += float(value[at])
                told = counted(float(value[at]), _EVENT.get(what, what))
                pointers.append(Pointer(course.header.soak_id, when_s, when_s, told))
        covered.append(coverage(course, requirement, course.blind("link")))
    if not covered:
        return not_tested(requirement, cannot or "the link does not tell of it")
    found = Value(number, margin=allowed - number, method="Events counted")
    because = f"{counted(number, _EVENT.get(what, what))}.".capitalize()
    return settle(requirement, number <= allowed, because, found, covered, pointers)


_EVENT = {
    "resets": "reset by the host",
    "descriptor_failures": "failed reading of the descriptor",
    "over_current": "over-current at the port",
}
