"""Whether a fault that was seen before the repair is gone."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.derive.faults import UnitFault, terms_of, unit_faults
from soak.derive.spans import common, holds, minus, total_s
from soak.quantities import show_duration
from soak.records import Requirement
from soak.rules.core.finding import Value, conclude, counted, not_shown, point_at, settle
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Verdict
from soak.statistics.compare import chance_by_luck, quiet_needed

_KINDS = ("dropout", "restart", "hang")

_METHOD = (
    "Chance of such a quiet time if the fault were as frequent as before, (T0/(T0+T1))^n: exact "
    "comparison of two Poisson counts (Przyborowski & Wilenski 1940)"
)


@rule("fault gone")
def fault_gone(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that a fault seen `params.seen` times in `params.seen_in_s` s is gone.

    Met if it never came again and the quiet time is luck with a chance of `limit` at most. Quiet
    time adds up over the soaks of the job; one recurrence is enough against it.
    """
    seen, seen_in_s = int(requirement.params["seen"]), float(requirement.params["seen_in_s"])
    limit = 0.05 if requirement.limit is None else requirement.limit
    again = [_again(requirement, course) for course in soaks]
    number = sum(map(len, again))
    quiet_s = sum(_watched_s(requirement, course) for course in soaks)
    chance = chance_by_luck(seen, seen_in_s, quiet_s)
    before = f"Before: {counted(seen, 'time', 'times')} in {show_duration(seen_in_s)}. "
    detail = {"seen": seen, "seen_in_s": seen_in_s, "again": number, "quiet_s": round(quiet_s, 3)}
    if number:
        pointers = [p for c, found in zip(soaks, again, strict=True) for p in point_at(c, found)]
        because = (
            f"{before}It came again {counted(number, 'time', 'times')} in {show_duration(quiet_s)}."
        )
        found = Value(method="Recurrences counted")
        return conclude(requirement, Verdict.NOT_MET, because, found, pointers, detail)
    found = Value(chance, margin=limit - chance, method=_METHOD)
    because = (
        f"{before}Since then {show_duration(quiet_s)} were quiet: with the fault still there the "
        f"chance of that is {chance:.1%}; {limit:.1%} is allowed."
    )
    if chance > limit:
        lacking = show_duration(quiet_needed(seen, seen_in_s, limit) - quiet_s)
        why = f"{because[0].lower()}{because[1:-1]}: {lacking} more are needed"
        return not_shown(requirement, why, found, (), detail)
    covered = [
        coverage(course, requirement, course.unseen(_source(requirement))) for course in soaks
    ]
    return settle(requirement, True, because, found, covered, (), detail)


def _source(requirement: Requirement) -> str:
    return requirement.quantity or "capture"


def _again(requirement: Requirement, course: Course) -> list[UnitFault]:
    kinds = requirement.params.get("kinds", _KINDS)
    windows = course.windows(requirement.stretch)
    faults = unit_faults(course, terms_of(requirement, course.header))
    return [one for one in faults if one.kind in kinds and holds(one.from_s, windows)]


def _watched_s(requirement: Requirement, course: Course) -> float:
    bad = terms_of(requirement, course.header).bad
    started = common(course.windows(requirement.stretch), course.started)
    return total_s(minus(started, course.unseen(_source(requirement), bad)))
