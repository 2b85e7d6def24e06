"""Whether a pack of files that the unit copied came across whole."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.quantities import show_bytes
from soak.records import Mark, Requirement
from soak.rules.core.finding import Value, conclude, counted, not_shown
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer, Verdict

_METHOD = "Each byte compared; files known by their own data"
Told = tuple[Course, Mark]


@rule("carried whole")
def carried_whole(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that every file that is not empty came across the port once, and all of them whole.

    One changed copy counts against the unit, unless the stick no longer holds the original as it
    was packed. A file that is nowhere, or only where it was packed, is a hole.
    """
    port = requirement.params.get("port")
    told = [
        (course, mark)
        for course in soaks
        if course.header.fixture.get("stick", {}).get("port") == port
        for mark in course.marks("carried")
        if mark.detail.get("length_bytes")
    ]
    changed = [one for one in told if one[1].detail.get("came") == "changed"]
    against = [one for one in changed if one[1].detail.get("original_whole", True)]
    if against:
        return _changed(requirement, against, several=len(soaks) > 1)
    best = _best(requirement, soaks, told)
    if changed and best.verdict != Verdict.MET:
        name = changed[0][1].detail.get("name")
        why = f"the stick itself no longer holds {name} as it was packed; take another stick"
        return not_shown(requirement, why)
    return best


def _changed(requirement: Requirement, against: Sequence[Told], *, several: bool) -> Finding:
    damaged = sum(_damaged(mark) for _, mark in against)
    kinds = sorted({kind for _, mark in against for kind in _kinds(mark)})
    files = counted(len(against), "file")
    where = ", ".join(sorted({course.header.soak_id for course, _ in against}))
    of = f" in {where}" if several else ""
    because = f"{files} came changed{of}, {show_bytes(damaged)} of wrong data ({', '.join(kinds)})."
    found = Value(damaged, margin=-float(damaged), method=_METHOD)
    return conclude(requirement, Verdict.NOT_MET, because, found, _pointers(against))


def _best(requirement: Requirement, soaks: Sequence[Course], told: Sequence[Told]) -> Finding:
    """Judge by the carry that brought most; pieces of several are never put together."""
    of = {id(course): [mark for whose, mark in told if whose is course] for course, _ in told}
    if not of:
        return not_shown(requirement, "nothing was carried")
    newest_first = [one for one in reversed(soaks) if id(one) in of]
    course = max(newest_first, key=lambda one: len(_whole(of[id(one)])))
    marks = of[id(course)]
    whole = _whole(marks)
    size = show_bytes(sum(float(mark.detail["length_bytes"]) for mark in whole))
    covered = coverage(course, requirement, ())
    detail = {"files": len(marks), "whole": len(whole), "coverage": [covered.as_json()]}
    pointers = _pointers([(course, mark) for mark in whole[:1]])
    found = Value(0.0, margin=0.0, method=_METHOD)
    if not covered.enough:
        return not_shown(requirement, covered.why, detail=detail)
    if len(whole) < len(marks):
        why = _lacking(marks, len(whole))
        return not_shown(requirement, why, found if whole else Value(), pointers, detail)
    where = f" in {course.header.soak_id}" if len(of) > 1 else ""
    because = f"{counted(len(whole), 'file')}, {size}, came across whole{where}."
    return conclude(requirement, Verdict.MET, because, found, pointers, detail)


def _whole(marks: Sequence[Mark]) -> list[Mark]:
    return [mark for mark in marks if mark.detail.get("came") == "whole"]


def _lacking(marks: Sequence[Mark], whole: int) -> str:
    in_place = sum(mark.detail.get("came") == "in place" for mark in marks)
    if in_place == len(marks):
        return "every file lies where it was packed; let the unit copy them"
    lacking = len(marks) - whole
    return f"{lacking} of {counted(len(marks), 'file')} did not come; copy the rest, unpack again"


def _damaged(mark: Mark) -> int:
    return sum(copy["damaged_bytes"] for copy in mark.detail["copies"] if not copy["original"])


def _kinds(mark: Mark) -> set[str]:
    return {
        kind for copy in mark.detail["copies"] if not copy["original"] for kind in copy["kinds"]
    }


def _pointers(told: Sequence[Told]) -> list[Pointer]:
    return [
        Pointer(course.header.soak_id, mark.t_s, mark.t_s, f"file {mark.detail.get('name')}")
        for course, mark in told
    ]
