"""The starts that a requirement counts, each with whether it failed."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.derive.said import limit_words
from soak.derive.spans import holds
from soak.derive.starting.starts import Start, undecided
from soak.records import Requirement
from soak.states import StartLimit
from soak.terms import StartTerms, part_from
from soak.words import Amount, Message, counted, joined


def tried_of(requirement: Requirement, course: Course) -> list[tuple[Start, bool]]:
    """Return the starts that count, in order of time, each with whether it failed."""
    return tried(_own(requirement, course), limit_of(requirement, course).limit_s, course)


def tried(starts: Sequence[Start], limit_s: float, course: Course) -> list[tuple[Start, bool]]:
    """Return those of some starts that were watched to their end, each with whether it failed."""
    unseen = course.holes("capture")
    return [
        (start, bool(start.failure(limit_s)))
        for start in starts
        if not start.hole and not undecided(start, limit_s, unseen)
    ]


def answered_late(requirement: Requirement, course: Course) -> Message | None:
    """Say of how many starts nobody knows whether they kept their limit; None if of none."""
    limit_s = limit_of(requirement, course).limit_s
    unseen = course.holes("capture")
    late = [
        start.within_s
        for start in _own(requirement, course)
        if not start.hole and not start.failure(limit_s) and undecided(start, limit_s, unseen)
    ]
    if not late:
        return None
    return counted(
        len(late),
        "of 1 start nobody knows whether it kept its limit: the switch answered {late} after it "
        "was told; look at its line and its settings",
        "of {count} starts nobody knows whether they kept their limit: the switch answered up to "
        "{late} after it was told; look at its line and its settings",
        late=Amount(max(late), "s"),
    )


def limit_of(requirement: Requirement, course: Course) -> StartLimit:
    """Return the longest time that a good start takes by a requirement, and who says so."""
    return course.start_limit(part_from(StartTerms, requirement.params).start_limit_s)


def limits_in_words(requirement: Requirement, soaks: Sequence[Course]) -> Message:
    """Say how long a start may take by a requirement; where soaks differ, each limit once."""
    sentences = [limit_words(limit_of(requirement, course)) for course in soaks]
    return joined("; ", list(dict.fromkeys(sentences)))


def _own(requirement: Requirement, course: Course) -> list[Start]:
    """Return the starts that the requirement is about."""
    terms = part_from(StartTerms, requirement.params)
    windows = course.windows(requirement.stretch)
    return [
        start
        for start in course.starts
        if start.kind in terms.kinds
        and start.check in ("", terms.power_check)
        and (
            start.stretch == requirement.stretch
            or (not (start.stretch and requirement.stretch) and holds(start.t_on, windows))
        )
    ]
