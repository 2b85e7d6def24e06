"""Losses of a source within a requirement's stretch, and when it was watched."""

from collections.abc import Sequence
from dataclasses import dataclass

from soak.derive.course import Course
from soak.derive.events.dropouts import Episode
from soak.derive.events.faults import terms_of
from soak.derive.spans import Span, common, holds, minus, total_s
from soak.records import Requirement


@dataclass(frozen=True, slots=True)
class Losses:
    """Episodes of one soak within a stretch: those long enough, the shorter ones; when watched.

    Attributes
    ----------
    long, short : sequence of Episode
        In order of time.
    watched : sequence of (float, float)
        When the unit had power and was started and the bench saw it, s of soak time.
    """

    long: Sequence[Episode]
    short: Sequence[Episode]
    watched: Sequence[Span]

    @property
    def hours(self) -> float:
        """Time watched, h."""
        return total_s(self.watched) / 3600


def losses_of(requirement: Requirement, course: Course) -> Losses:
    """Return the losses that a requirement is about."""
    terms = terms_of(requirement, course.header)
    windows = course.windows(requirement.stretch)
    source = requirement.quantity or "capture"
    all_of_them = course.episodes(source, terms.bad, terms.gap_s, terms.usual_start_s)
    here = [episode for episode in all_of_them if holds(episode.from_s, windows)]
    watched = minus(common(windows, course.started), course.unseen(source, terms.bad))
    return Losses(
        [episode for episode in here if episode.longest_s >= terms.at_least_s],
        [episode for episode in here if episode.longest_s < terms.at_least_s],
        watched,
    )
