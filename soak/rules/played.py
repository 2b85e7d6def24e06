"""Whether a coded clip came whole and steadily: read from the stick, decoded and shown."""

from collections.abc import Sequence

import numpy as np

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.derive.seen import trace
from soak.derive.spans import inside, total_s
from soak.quantities import show_duration
from soak.records import Requirement
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer

_COUNTED = "Frames of the clip counted by the number and check in each; a frame lies within 1 s"

_COLOURED = (
    "Tiles of known colours; black and white are taken as they come, so any range may be set"
)


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
    longest = max(_largest(course, requirement, "clip.longest_run")[0] for course in soaks)
    because = (
        f"Read from {requirement.params.get('over', 'the stick')} and shown: {_many(came)} of "
        f"{_many(came + lost)} frames in {show_duration(watched_s)}; "
        f"{_many(longest)} of them in one unbroken run."
    )
    unseen = sum(_sum(course, requirement, "clip.unseen") for course in soaks)
    if unseen:
        because += f" {_many(unseen)} more fell into gaps of the capture and say nothing."
    found = Value(lost, margin=allowed - lost, method=_COUNTED)
    pointers = [one for course in soaks for one in _where(course, requirement, "clip.lost")]
    detail = {"frames": came, "lost": lost, "unseen": unseen, "longest_run": longest}
    detail["hours"] = watched_s / 3600
    if lost <= allowed and unseen > requirement.blind_allowed * (came + unseen):
        return not_shown(requirement, _gaps(unseen, came), found, pointers, detail)
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


@rule("played in colour")
def played_in_colour(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that no colour lane is further from what the clip holds than `limit`."""
    if not sum(_sum(course, requirement, "clip.came") for course in soaks):
        return not_shown(requirement, "no frame of the clip was ever read")
    allowed, told = requirement.limit or 0.0, []
    pointers: list[Pointer] = []
    for lane in ("blue", "green", "red"):
        found = [_largest(course, requirement, f"clip.colour_error.{lane}") for course in soaks]
        told.append((max(error for error, _ in found), lane))
        pointers += [
            Pointer(course.header.soak_id, t_s - 1, t_s, f"{lane} off by {error:.0%}")
            for course, (error, t_s) in zip(soaks, found, strict=True)
            if error > allowed
        ]
    worst, lane = max(told)
    each = ", ".join(f"{lane} {error:.0%}" for error, lane in told)
    because = f"Largest error of each colour, of full scale: {each}."
    covered = [coverage(course, requirement, course.blind("capture")) for course in soaks]
    value = Value(worst, margin=allowed - worst, method=_COLOURED)
    return settle(requirement, worst <= allowed, because, value, covered, pointers, {"lane": lane})


def _gaps(unseen: float, came: float) -> str:
    share = unseen / (came + unseen)
    return f"{share:.1%} of the frames fell into gaps of the capture, where nobody saw them"


def _many(number: float) -> str:
    return f"{number:,.0f}".replace(",", " ")


def _largest(course: Course, requirement: Requirement, quantity: str) -> tuple[float, float]:
    """Return the largest reading while the unit was on and started, and when it was."""
    one = trace(course, requirement, quantity)
    there = inside(one.t_s, course.started)
    if not there.any():
        return 0.0, 0.0
    at = int(np.argmax(np.where(there, one.value, -1.0)))
    return float(one.value[at]), float(one.t_s[at])


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
