"""Whether a stick that was filled once holds what it claims."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.records import Json, Mark, Requirement
from soak.rules.core.finding import Value, not_shown, not_tested, settle
from soak.rules.core.port import BENCH_ONLY
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer


@rule("holds what it claims")
def holds_what_it_claims(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that what was written to all there is room for came back."""
    covered, told = [], []
    for course in soaks:
        covered.append(coverage(course, requirement, course.unseen("stick")))
        marks = [m for m in course.marks("capacity") if m.stretch == requirement.stretch]
        told += [(course, mark) for mark in marks]
    if not told:
        why = covered[-1].why or "the stick was not filled and read back within the stretch"
        return not_shown(requirement, why)
    course, mark = max(told, key=lambda pair: lost_bytes(pair[1].detail))
    lost = lost_bytes(mark.detail)
    words = in_words(mark.detail)
    if requirement.params.get("path") == "bench_only":  # the bench's own stick, not the unit
        advice = f". {words} Take another stick" if lost else ""
        return not_tested(requirement, f"{BENCH_ONLY}{advice}")
    found = Value(float(lost), margin=-float(lost), method="Bytes that did not come back")
    return settle(requirement, lost == 0, words, found, covered, [_pointer(course, mark)])


def lost_bytes(detail: Json) -> int:
    """Return the bytes that are claimed, or were tried, and are not held."""
    holds = int(detail["holds_bytes"])
    against = "claims_bytes" if "wraps_bytes" in detail else "tried_bytes"
    return max(0, int(detail[against]) - holds)


def in_words(detail: Json) -> str:
    """Say what a stick claims and what it holds, in one or two sentences."""
    claims, holds = _size(detail["claims_bytes"]), _size(detail["holds_bytes"])
    tried = _size(detail["tried_bytes"])
    if "wraps_bytes" in detail:
        return f"The stick claims {claims}, holds {holds}: beyond that its addresses begin anew."
    if lost_bytes(detail):
        return f"The stick claims {claims}, holds {holds} of {tried} tried: the rest is lost."
    return f"The stick claims {claims}; all {tried} tried came back right."


def _size(size_bytes: int) -> str:
    """Write a size as sticks are labelled: `64 GB`, not `64.00 GB`."""
    for unit, one in (("GB", 1e9), ("MB", 1e6), ("kB", 1e3)):
        if size_bytes >= one:
            return f"{size_bytes / one:.1f}".removesuffix(".0") + f" {unit}"
    return f"{size_bytes} B"


def _pointer(course: Course, mark: Mark) -> Pointer:
    return Pointer(course.header.soak_id, mark.t_s, mark.t_s, "stick filled and read back")
