"""Whether the unit starts every time, and whether it was really off before."""

import math
from collections.abc import Mapping, Sequence

from soak.derive.course import Course
from soak.derive.coverage import Coverage, coverage
from soak.derive.faults import failed_starts
from soak.derive.spans import holds
from soak.derive.starts import Start
from soak.derive.strata import in_words, strata
from soak.derive.tried import limit_s_of, tried_of
from soak.quantities import show_duration
from soak.records import Requirement
from soak.rules.core.finding import Value, conclude, counted, not_shown, point_at, settle
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer, Verdict

_METHOD = (
    "Failed starts counted; bounds of the failed share after Clopper & Pearson 1934, "
    "NIST/SEMATECH e-Handbook 7.2.4.1; whether the starts are alike: exact runs test (Swed & "
    "Eisenhart 1943), early against late half (Fisher's exact test), Mann-Kendall and Theil-Sen"
)


@rule("starts")
def starts(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that no more than `limit` starts failed, over all soaks together.

    Cold, warm and quick starts have bounds of their own (`detail["strata"]`); the finding's bounds
    are given where all starts are of one kind and alike.
    """
    tried: list[tuple[Start, bool]] = []
    pointers: list[Pointer] = []
    covered: list[Coverage] = []
    for course in soaks:
        counted_here = tried_of(requirement, course)
        tried += counted_here
        pointers += _faults(course, limit_s_of(requirement, course), counted_here)
        covered.append(_covered(requirement, course, len(counted_here)))
    if not tried:
        return not_shown(requirement, covered[-1].why or "no start was watched to its end")
    allowed, failed = requirement.limit or 0.0, sum(bad for _, bad in tried)
    confidence = requirement.confidence or 0.95
    groups = strata(tried, confidence)
    low, high = (groups[0].bound_low, groups[0].bound_high) if len(groups) == 1 else (None, None)
    times = [start.took_s for start, _ in tried if start.took_s is not None]
    slow = f"; the slowest took {show_duration(max(times))}" if times else ""
    because = f"{len(tried) - failed} of {len(tried)} starts worked{slow}."
    if failed and pointers:
        because += f" First: {pointers[0].what}."
    detail = {
        "starts": len(tried),
        "failed": failed,
        "slowest_s": max(times, default=None),
        "confidence": confidence,
        "strata": [group.as_json() for group in groups],
    }
    found = Value(failed, low, high, allowed - failed, _METHOD)
    because = " ".join([because, *in_words(groups)])
    return settle(requirement, failed <= allowed, because, found, covered, pointers, detail)


def _faults(
    course: Course, limit_s: float, tried: Sequence[tuple[Start, bool]]
) -> Sequence[Pointer]:
    when = {start.t_on for start, bad in tried if bad}
    return point_at(course, [one for one in failed_starts(course, limit_s) if one.from_s in when])


def _covered(requirement: Requirement, course: Course, watched: int) -> Coverage:
    """Return coverage by count: what was promised is a number of starts."""
    plain = coverage(course, requirement, ())
    promised = promised_starts(requirement, course)
    why = plain.why
    if promised is not None and watched < math.ceil(promised * (1 - requirement.blind_allowed)):
        why = why or f"only {watched} of {promised} starts were watched to their end"
    return Coverage(plain.promised_s, plain.observed_s, 0.0, 0.0, why)


def promised_starts(requirement: Requirement, course: Course) -> int | None:
    """Return how many starts of the asked kinds the script promises; None if it does not say."""
    if "promised" in requirement.params:
        return int(requirement.params["promised"])
    check = str(requirement.params.get("power_check", "power_cycles"))
    counts = []
    for entry in course.header.script.get("stretches", ()):
        if requirement.stretch not in ("", entry.get("name")):
            continue
        settings = entry.get("checks", {}).get(check)
        for kind in requirement.params.get("kinds", ("warm", "cold")):
            asked = settings.get(kind) if isinstance(settings, Mapping) else None
            asked = asked.get("count") if isinstance(asked, Mapping) else asked
            if isinstance(asked, int) and not isinstance(asked, bool):
                counts.append(asked)
    return sum(counts) if counts else None


@rule("off proved")
def off_proved(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that each off was seen to be one; a welded relay is the bench's fault."""
    proved, doubtful, pointers = 0, 0, []
    for course in soaks:
        windows = course.windows(requirement.stretch)
        here = [m for m in course.marks() if holds(m.t_s, windows)]
        proved += sum(mark.what == "off proved" for mark in here)
        for mark in here:
            if mark.what == "off not proved":
                doubtful += 1
                what = f"commanded off and still alive by {mark.detail.get('by', 'capture')}"
                pointers.append(Pointer(course.header.soak_id, mark.t_s, mark.t_s, what))
    found = Value(doubtful, margin=(requirement.limit or 0.0) - doubtful, method="Marks counted")
    detail = {"proved": proved, "not proved": doubtful}
    if doubtful > (requirement.limit or 0.0):
        why = f"{counted(doubtful, 'off')} could not be proved; look at the relay and its wiring"
        return not_shown(requirement, why, found, pointers, detail)
    if not proved:
        return not_shown(requirement, "no off was proved", found, (), detail)
    because = f"The unit was seen to be off each of {counted(proved, 'time')}."
    return conclude(requirement, Verdict.MET, because, found, (), detail)
