"""Observed time of a running stretch, by the holes and the doubt that the judgement goes by.

A demand is judged on what its own sources saw; a stretch is over when all of them have seen enough.
"""

from collections.abc import Iterable

from soak.derive.course import Course
from soak.derive.events.faults import lost_states
from soak.derive.spans import Span, common, merged, minus, total_s


def observed_s(
    course: Course, stretch: str, sources: Iterable[str], *, powered: bool = True
) -> float:
    """Return for how long of a stretch every one of its sources was seen, s.

    What lies in doubt is not: it is no more known than what nobody saw.

    Parameters
    ----------
    stretch : str
        All sessions of it.
    sources : iterable of str
        What its checks look at.
    powered : bool
        Whether its checks need the unit's power: else it counts though nobody confirmed that.
    """
    windows = course.windows(stretch) if powered else course.pieces(stretch)
    return total_s(minus(windows, unobserved(course, sources, windows)))


def unobserved(course: Course, sources: Iterable[str], windows: Iterable[Span]) -> list[Span]:
    """Return the parts of the windows in which at least one of the sources was not seen.

    What does not end by itself is not waited for, a probe that came off or a unit that is dead: the
    night would be spent on what a hand must mend.
    """
    unseen: list[Span] = []
    for source in {*sources} & {*course.sources}:
        lost = course.losses(source, lost_states(source, course.header))
        unseen += [(loss.from_s, loss.to_s) for loss in lost if not loss.charged]
        unseen += [(h.from_s, h.to_s) for h in course.holes(source) if not h.for_good]
    return common(windows, merged(unseen))
