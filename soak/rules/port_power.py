"""Whether a USB port gives its voltage under load, and how far it droops."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soak.derive.course import Course
from soak.derive.coverage import Coverage, coverage
from soak.derive.spans import Span, common, inside, minus
from soak.evidence import Floats
from soak.quantities import show_duration
from soak.records import Requirement
from soak.rules.core.bands import accuracy_of, guarded
from soak.rules.core.finding import not_shown
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer

FEWEST = 3
"""So few readings on either side of a switching say nothing. Our own choice."""


@dataclass(frozen=True, slots=True)
class _Read:
    """Readings of one soak, with the load on and off, while the unit was started."""

    course: Course
    on: tuple[Floats, Floats]
    off: tuple[Floats, Floats]
    times: int


@rule("port voltage")
def port_voltage(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that the port's voltage stays between `low_v` and `high_v`, loaded and not."""
    read, covered, why = _gathered(requirement, soaks)
    if why:
        return not_shown(requirement, why)
    low_v, high_v = float(requirement.params["low_v"]), float(requirement.params["high_v"])
    best: tuple[float, float, float, str, Course] | None = None
    for one in read:
        for name, (t_s, value) in (("with load", one.on), ("without load", one.off)):
            margins = np.minimum(value - low_v, high_v - value)
            at = int(np.argmin(margins))
            worst = (float(margins[at]), float(value[at]), float(t_s[at]), name, one.course)
            best = worst if best is None or worst[0] < best[0] else best
    assert best is not None
    margin, value_v, when_s, name, course = best
    because = (
        f"The reading nearest to a limit, {name}, was {value_v:.3f} V at {show_duration(when_s)}; "
        f"the limits are {low_v:g} and {high_v:g} V."
    )
    pointers = [Pointer(course.header.soak_id, when_s, when_s, f"{value_v:.3f} V {name}")]
    detail = {
        "loaded_lowest_v": min(float(one.on[1].min()) for one in read),
        "unloaded_highest_v": max(float(one.off[1].max()) for one in read),
        "droop_v": max(_droop_v(one) for one in read),
    }
    accuracy = accuracy_of(course, requirement.quantity)
    return guarded(requirement, value_v, margin, accuracy, because, covered, pointers, detail)


@rule("port droop")
def port_droop(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that the voltage falls by at most `limit` V when the load comes."""
    read, covered, why = _gathered(requirement, soaks, settles=False)
    if why:
        return not_shown(requirement, why)
    worst = max(read, key=_droop_v)
    droop_v, limit_v = _droop_v(worst), requirement.limit or 0.0
    when_s = float(worst.on[0][int(np.argmin(worst.on[1]))])
    because = f"It fell by {droop_v:.3f} V; the limit is {limit_v:g} V."
    pointers = [Pointer(worst.course.header.soak_id, when_s, when_s, f"{droop_v:.3f} V lower")]
    # A difference of two readings of one meter: its constant error falls out, its noise does not;
    # the stated accuracy is kept clear all the same.
    accuracy = accuracy_of(worst.course, requirement.quantity)
    margin = limit_v - droop_v
    return guarded(requirement, droop_v, margin, accuracy, because, covered, pointers, {})


def _droop_v(one: _Read) -> float:
    return float(np.median(one.off[1]) - one.on[1].min())


def _gathered(
    requirement: Requirement, soaks: Sequence[Course], settles: bool = True
) -> tuple[list[_Read], list[Coverage], str]:
    """Return readings and coverage of each soak, and why they are not enough."""
    read, covered = [], []
    for course in soaks:
        blind = course.blind(requirement.quantity)
        covered.append(coverage(course, requirement, blind))
        one = _read(requirement, course, blind, settles)
        if one is not None:
            read.append(one)
    if not read:
        why = covered[-1].why if covered else ""
        return [], covered, why or "there are no readings with and without the load"
    promised = int(requirement.params.get("promised", 1))
    times = sum(one.times for one in read)
    short = f"the load was on only {times} of {promised} times" if times < promised else ""
    return read, covered, short


def _read(
    requirement: Requirement, course: Course, blind: Sequence[Span], settles: bool
) -> _Read | None:
    own = common(course.windows(requirement.stretch), course.started)
    loaded = _loaded(course, requirement.stretch)
    settles_s = float(requirement.params.get("settles_s", 1.0))
    t_s, value = course.series(requirement.quantity, requirement.stretch)
    early_s = settles_s if settles else 0.0
    on = [(b + early_s, e - 0.1) for b, e in loaded if e - b > early_s + 0.1]
    around = [(b - 0.5, e + settles_s) for b, e in loaded]
    good = minus(own, blind)
    with_load = inside(t_s, common(on, good))
    without = inside(t_s, minus(good, around))
    if with_load.sum() < FEWEST or without.sum() < FEWEST:
        return None
    return _Read(
        course,
        (t_s[with_load], value[with_load]),
        (t_s[without], value[without]),
        len(common(on, good)),
    )


def _loaded(course: Course, stretch: str) -> list[Span]:
    """Return when the load was on."""
    spans: list[Span] = []
    on_s: float | None = None
    for mark in course.marks("load"):
        if mark.stretch != stretch:
            continue
        if mark.detail.get("on") and on_s is None:
            on_s = mark.t_s
        elif not mark.detail.get("on") and on_s is not None:
            spans.append((on_s, mark.t_s))
            on_s = None
    return spans if on_s is None else [*spans, (on_s, course.ends_s)]
