"""Whether a coded clip came whole and steadily: read from the stick, decoded and shown."""

from collections.abc import Sequence

import numpy as np

from soak.judge.coverage import coverage
from soak.judge.derive import Course
from soak.judge.finding import Value, not_shown, settle
from soak.judge.rule import rule
from soak.judge.seen import trace
from soak.judge.spans import inside, total_s
from soak.judge.verdict import Finding, Pointer
from soak.quantities import show_duration
from soak.records import Requirement

_COUNTED = "Frames of the clip counted by the number and check in each; a frame lies within 1 s"


@rule("played whole")
def played_whole(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that at most `limit` frames of the clip were lost."""
    came = sum(_sum(course, requirement, "clip.came") for course in soaks)
    lost = sum(_sum(course, requirement, "clip.lost") for course in soaks)
    if not came:
        return not_shown(requirement, "no frame of the clip was ever read")
    watched_s = sum(_watched_s(course, requirement) for course in soaks)
    covered = [coverage(course, requirement, course.blind("capture")) for course in soaks]
    allowed = requirement.limit or 0.0
    because = (
        f"Read from the stick and shown: {came:,.0f} of {came + lost:,.0f} frames in "
        f"{show_duration(watched_s)}."
    ).replace(",", " ")
    found = Value(lost, margin=allowed - lost, method=_COUNTED)
    pointers = [one for course in soaks for one in _where(course, requirement, "clip.lost")]
    detail = {"frames": came, "lost": lost, "hours": watched_s / 3600}
    return settle(requirement, lost <= allowed, because, found, covered, pointers, detail)


@rule("played steadily")
def played_steadily(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that frames stand too long at most `limit` times an hour."""
    came = sum(_sum(course, requirement, "clip.came") for course in soaks)
    if not came:
        return not_shown(requirement, "no frame of the clip was ever read")
    long = sum(_sum(course, requirement, "clip.stuttered") for course in soaks)
    hours = sum(_watched_s(course, requirement) for course in soaks) / 3600
    allowed = requirement.limit or 0.0
    covered = [coverage(course, requirement, course.blind("capture")) for course in soaks]
    because = f"{long:.0f} frames stood longer than twice the usual time in {hours:.2f} h."
    found = Value(long / hours, margin=allowed - long / hours, method=_COUNTED)
    pointers = [one for course in soaks for one in _where(course, requirement, "clip.stuttered")]
    return settle(requirement, long <= allowed * hours, because, found, covered, pointers)


def _counted(course: Course, requirement: Requirement, quantity: str) -> tuple[float, list[float]]:
    """Return the sum while the unit was on and started, and when it was not zero."""
    one = trace(course, requirement, quantity)
    there = inside(one.t_s, course.started)
    some = there & (one.value > 0)
    return float(one.value[there].sum()), [float(t) for t in one.t_s[some]]


def _sum(course: Course, requirement: Requirement, quantity: str) -> float:
    return _counted(course, requirement, quantity)[0]


def _where(course: Course, requirement: Requirement, quantity: str) -> list[Pointer]:
    times = _counted(course, requirement, quantity)[1]
    what = quantity.removeprefix("clip.")
    return [Pointer(course.header.soak_id, t - 1, t, f"frames {what}") for t in times]


def _watched_s(course: Course, requirement: Requirement) -> float:
    one = trace(course, requirement, "clip.came")
    if len(one.t_s) < 2:
        return 0.0
    windows = course.windows(requirement.stretch)
    seconds = float(np.sum(inside(one.t_s, course.started)))  # one reading a second
    return min(seconds, total_s(windows))
