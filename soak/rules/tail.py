"""Whether the unit ran without a fault up to the end."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.derive.faults import UnitFault, terms_of, unit_faults
from soak.derive.spans import Span, common, longest_s, merged, minus, total_s
from soak.quantities import show_duration
from soak.records import Requirement
from soak.rules.core.finding import Value, conclude, not_shown, point_at
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer, Verdict

_ROUNDING_S = 2.0

_METHOD = (
    "Time with power on since the last fault of the unit or the last resume, blind time left out"
)


@rule("failure free")
def failure_free(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that the last `limit` s of observed time hold no fault of the unit.

    Only the newest soak counts, and within it only its last session: a run with a break in it is
    never put together.
    """
    course = soaks[-1]
    wanted_s = requirement.limit or 0.0
    terms = terms_of(requirement, course.header)
    faults = unit_faults(course, terms)
    if not course.session_spans:
        return not_shown(requirement, "nothing was recorded")
    unseen = merged(
        span for source in _watching(course) for span in course.unseen(source, terms.bad)
    )
    begins_s = course.session_spans[-1][0]
    last = max(faults, key=lambda fault: fault.to_s, default=None)
    clean_from_s = max(begins_s, last.to_s if last else begins_s)
    powered = common(course.power, [(begins_s, course.ends_s)])
    clean_s = total_s(minus(common(powered, [(clean_from_s, course.ends_s)]), unseen))
    soak_id = course.header.soak_id
    found = Value(clean_s, margin=clean_s - wanted_s, method=_METHOD)
    shown, wanted = show_duration(clean_s), show_duration(wanted_s)
    if clean_s >= wanted_s - _ROUNDING_S:
        tail = _tail(powered, unseen, wanted_s)
        why = _holed(requirement, course, powered, unseen, tail)
        if why:
            return not_shown(requirement, why, found)
        because = f"The last {shown} with power on were without a fault; {wanted} are demanded."
        return conclude(requirement, Verdict.MET, because, found, [Pointer(soak_id, *tail)])
    if last is not None and last.to_s >= begins_s:
        return _not_met(requirement, course, last, found, f"{shown} of {wanted}")
    why = coverage(course, requirement, unseen).why
    why = why or f"only {shown} with power on were observed at the end; {wanted} are demanded"
    return not_shown(requirement, why, found)


def _not_met(
    requirement: Requirement, course: Course, last: UnitFault, found: Value, amount: str
) -> Finding:
    when = show_duration(last.from_s)
    because = f"Only {amount} passed without a fault after the last one, at {when}: {last.text}."
    return conclude(requirement, Verdict.NOT_MET, because, found, point_at(course, [last]))


def _watching(course: Course) -> list[str]:
    """Return the source whose sight makes time observed."""
    if "capture" in course.roles:
        return ["capture"]  # a stick is looked at in some stretches only, and judged there
    return ["stick"] if "stick" in course.roles and course.stick_proves_unit else []


def _tail(powered: Sequence[Span], unseen: Sequence[Span], wanted_s: float) -> Span:
    """Return the span, counted back from the end, that holds `wanted_s` of observed time."""
    left_s, observed = wanted_s, minus(powered, unseen)
    for begin_s, end_s in reversed(observed):
        if end_s - begin_s >= left_s:
            return end_s - left_s, powered[-1][1]
        left_s -= end_s - begin_s
    return observed[0][0] if observed else powered[0][0], powered[-1][1]


def _holed(
    requirement: Requirement,
    course: Course,
    powered: Sequence[Span],
    unseen: Sequence[Span],
    tail: Span,
) -> str:
    """Say why the tail has too many holes; empty if it has not."""
    holes = common(common(powered, [tail]), unseen)
    length_s = total_s(common(powered, [tail]))
    allowed_s = requirement.longest_blind_s
    if allowed_s is not None and longest_s(holes) > allowed_s:
        return (
            f"the bench was blind for {show_duration(longest_s(holes))} at one time in the end run"
        )
    if length_s and total_s(holes) / length_s > requirement.blind_allowed:
        return f"the bench was blind for {total_s(holes) / length_s:.1%} of the end run"
    if not _watching(course):
        return "nothing was wired that would have seen a fault"
    return ""
