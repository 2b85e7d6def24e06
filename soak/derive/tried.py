"""The starts that a requirement counts, each with whether it failed."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.spans import holds
from soak.derive.starts import Start, late_while_blind, start_limit_s
from soak.records import Requirement
from soak.terms import StartTerms, part_from


def tried_of(requirement: Requirement, course: Course) -> list[tuple[Start, bool]]:
    """Return the starts that count, in order of time, each with whether it failed."""
    return tried(_own(requirement, course), limit_s_of(requirement, course), course)


def tried(starts: Sequence[Start], limit_s: float, course: Course) -> list[tuple[Start, bool]]:
    """Return those of some starts that were watched to their end, each with whether it failed."""
    blind = course.blind("capture")
    return [
        (start, bool(start.failure(limit_s)))
        for start in starts
        if not start.hole and not late_while_blind(start, limit_s, blind)
    ]


def limit_s_of(requirement: Requirement, course: Course) -> float:
    """Return the longest time in s that a good start takes, as the requirement states it."""
    told = part_from(StartTerms, requirement.params)
    return start_limit_s(
        course.starts, course.header.model_sheet, told.start_limit_s, told.usual_start_s
    )


def _own(requirement: Requirement, course: Course) -> list[Start]:
    """Return the starts that the requirement is about."""
    told = part_from(StartTerms, requirement.params)
    windows = course.windows(requirement.stretch)
    return [
        start
        for start in course.starts
        if start.kind in told.kinds
        and start.check in ("", told.power_check)
        and (
            start.stretch == requirement.stretch
            or (not (start.stretch and requirement.stretch) and holds(start.t_on, windows))
        )
    ]
