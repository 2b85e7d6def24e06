"""What short breaks of the supply did to the unit."""

from collections import Counter
from collections.abc import Sequence

from soak.judge.coverage import coverage
from soak.judge.derive import Course
from soak.judge.finding import Value, not_shown, settle
from soak.judge.rule import rule
from soak.judge.spans import holds
from soak.judge.verdict import Finding, Pointer
from soak.records import Requirement

OUTCOMES = ("no effect", "recovers by itself", "needs a hand", "does not recover")
"""The four degrees A to D of IEC 61000-4-11 in plain words."""

_METHOD = "Outcomes of short breaks counted, in the four degrees of IEC 61000-4-11"


@rule("short breaks")
def short_breaks(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that at most `limit` short breaks did more than the unit mends by itself."""
    counts: Counter[str] = Counter()
    pointers: list[Pointer] = []
    for course in soaks:
        windows, blind = course.windows(requirement.stretch), course.blind("capture")
        for mark in course.marks("short break"):
            if not holds(mark.t_s, windows) or holds(mark.t_s, blind):
                continue
            outcome = str(mark.detail["outcome"])
            counts[outcome] += 1
            if outcome in OUTCOMES[2:]:
                what = f"{outcome} after a break of {mark.detail['off_s']:g} s"
                pointers.append(Pointer(course.header.soak_id, mark.t_s, mark.t_s, what))
    covered = [coverage(course, requirement, ()) for course in soaks]
    if not counts:
        return not_shown(requirement, covered[-1].why or "no short break was made")
    worse = len(pointers)
    told = ", ".join(f"{word} {counts[word]}" for word in OUTCOMES if counts[word])
    because = f"Of {counts.total()} short breaks: {told}."
    allowed = requirement.limit or 0.0
    value = Value(worse, margin=allowed - worse, method=_METHOD)
    detail = {word: counts[word] for word in OUTCOMES}
    return settle(requirement, worse <= allowed, because, value, covered, pointers, detail)
