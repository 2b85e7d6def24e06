"""What short breaks of the supply did to the unit."""

import math
from collections import Counter
from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.coverage import Coverage, coverage
from soak.derive.degrees import DEGREES
from soak.derive.spans import holds, touching
from soak.records import Mark, Requirement
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer

_METHOD = "Short breaks counted by what they did, in the four degrees of IEC 61000-4-11"


_AFTER = {
    "no effect": "{} had no effect.",
    "recovers by itself": "After {} it recovered by itself.",
    "needs a hand": "After {} it needed a hand.",
    "does not recover": "After {} it did not recover.",
}


@rule("short breaks")
def short_breaks(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that at most `limit` short breaks did more than the unit mends by itself.

    With `no_effect_up_to_s` only breaks asked to be so short count, and any effect is too much.
    """
    upto_s = requirement.params.get("no_effect_up_to_s")
    bad = DEGREES[2:] if upto_s is None else DEGREES[1:]
    breaks: list[Mark] = []
    pointers: list[Pointer] = []
    covered: list[Coverage] = []
    for course in soaks:
        here = [
            mark
            for mark in _seen(requirement, course)
            if upto_s is None or _length_s(mark) <= float(upto_s)
        ]
        breaks += here
        pointers += [
            Pointer(course.header.soak_id, mark.t_s, mark.t_s, _told(mark))
            for mark in here
            if mark.detail["degree"] in bad
        ]
        covered.append(_covered(requirement, course, len(here)))
    if not breaks:
        return not_shown(requirement, covered[-1].why or "no short break was made")
    counts = Counter(str(mark.detail["degree"]) for mark in breaks)
    worse, allowed = len(pointers), requirement.limit or 0.0
    told = [_AFTER[word].format(counts[word]) for word in DEGREES if counts[word]]
    because = f"{len(breaks)} short breaks were made. {' '.join(told)}"
    if pointers:
        because += f" First: {pointers[0].what}."
    value = Value(worse, margin=allowed - worse, method=_METHOD)
    detail = {word: counts[word] for word in DEGREES}
    detail["trials"] = len(breaks)
    return settle(
        requirement,
        worse <= allowed,
        because,
        value,
        covered,
        pointers,
        {**detail, "by_length": _by_length(breaks)},
    )


def _seen(requirement: Requirement, course: Course) -> list[Mark]:
    """Return the breaks of a stretch that the bench saw from beginning to end."""
    windows, blind = course.windows(requirement.stretch), course.blind("capture")
    return [
        mark
        for mark in course.marks("short break")
        if holds(mark.t_s, windows)
        and touching(float(mark.detail.get("from_s", mark.t_s)), mark.t_s, blind) is None
    ]


def _covered(requirement: Requirement, course: Course, made: int) -> Coverage:
    plain = coverage(course, requirement, ())
    promised, why = requirement.params.get("promised"), plain.why
    if promised is not None and made < math.ceil(promised * (1 - requirement.blind_allowed)):
        why = why or f"only {made} of {promised} short breaks were seen to their end"
    return Coverage(plain.promised_s, plain.observed_s, 0.0, 0.0, why)


def _length_s(mark: Mark) -> float:
    return float(mark.detail.get("asked_s", mark.detail["off_s"]))


def _told(mark: Mark) -> str:
    return f"{mark.detail['degree']} after a break of {_length_s(mark):g} s"


def _by_length(breaks: Sequence[Mark]) -> list[dict[str, object]]:
    """Return the degrees of each stated length; breaks of random length have none."""
    lengths = sorted({float(m.detail["asked_s"]) for m in breaks if "asked_s" in m.detail})
    return [
        {
            "asked_s": length_s,
            "longest_s": max(float(mark.detail["off_s"]) for mark in here),
            "degrees": dict(Counter(str(mark.detail["degree"]) for mark in here)),
        }
        for length_s in lengths
        if (here := [mark for mark in breaks if mark.detail.get("asked_s") == length_s])
    ]
