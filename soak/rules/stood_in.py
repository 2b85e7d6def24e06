"""Whether the unit took in a stick that a small computer played, and read from it."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.quantities import show_bytes
from soak.records import Requirement
from soak.rules.core.finding import Value, conclude, not_shown, not_tested
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer, Verdict

_STANDING = ("stood_in", "simulated")
_METHOD = "Counted on the device's side of the port"


@rule("taken in")
def taken_in(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that the unit configured the stick at least `limit` times."""
    return _at_least(requirement, soaks, "The unit took in the stick {} times")


@rule("read by the unit")
def read_by_the_unit(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that the unit read at least `limit` bytes of the stick."""
    return _at_least(requirement, soaks, "The unit read {} of the stick")


def _at_least(requirement: Requirement, soaks: Sequence[Course], words: str) -> Finding:
    """Judge by the soak with most; a count that is too small counts only without holes."""
    standing = [
        one for one in soaks if one.header.fixture.get("link", {}).get("driver") in _STANDING
    ]
    if not standing:
        return not_tested(requirement, "no stand-in was wired")
    least = requirement.limit or 1.0
    summed = [_sum(requirement, course) for course in standing]
    known = [
        (total, course) for total, course in zip(summed, standing, strict=True) if total is not None
    ]
    if not known:
        why = coverage(standing[-1], requirement, standing[-1].blind("link")).why
        return not_shown(requirement, why or "the stand-in's kernel does not count it")
    total, course = max(known, key=lambda pair: pair[0])
    covered = coverage(course, requirement, course.blind("link"))
    shown = show_bytes(total) if requirement.unit == "B" else f"{total:g}"
    at_least = show_bytes(least) if requirement.unit == "B" else f"{least:g}"
    because = f"{words.format(shown)}; at least {at_least} demanded.".replace("1 times", "once")
    found = Value(total, margin=total - least, method=_METHOD)
    windows = course.windows(requirement.stretch)
    pointers = (
        [Pointer(course.header.soak_id, windows[0][0], windows[-1][1], "stand-in")]
        if windows
        else []
    )
    detail = {"coverage": [covered.as_json()]}
    if not covered.enough:
        return not_shown(requirement, covered.why, found, pointers, detail)
    verdict = Verdict.MET if total >= least else Verdict.NOT_MET
    return conclude(requirement, verdict, because, found, pointers, detail)


def _sum(requirement: Requirement, course: Course) -> float | None:
    _, values = course.series(requirement.quantity, requirement.stretch)
    return float(values.sum()) if len(values) else None
