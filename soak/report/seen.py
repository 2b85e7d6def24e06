"""What a journal shows, as spans of time for charts and lists; derived as the judgement does it."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from soak.charts.axes import clock_text
from soak.derive.course import Course
from soak.derive.holes import EVERYTHING
from soak.derive.power import unpowered
from soak.derive.spans import Span
from soak.names import source_named
from soak.report.model import Hole
from soak.states import BLIND, PROTECTED, UNSEEN
from soak.words import Amount, Message, joined, just, msg

_UNTOLD = {
    BLIND: msg("the bench could not see it"),
    PROTECTED: msg("the unit sent its picture as protected output, which no capture can see"),
}


def power_off(course: Course) -> list[Span]:
    """Return the spans in s without power; none if there is no switch."""
    if "switch" not in course.roles:
        return []
    return unpowered(course.power, 0.0, course.ends_s)


@dataclass(frozen=True, slots=True)
class Unseen:
    """A time in which the bench could not see, or was not itself.

    Attributes
    ----------
    source : str
        What was not seen; empty: nothing was.
    lasts_s : float or None
        Its length, s; None: nobody knows it.
    why : Message
        All that was said of it.
    marked : bool
        Whether a mark tells of it, or a gap between sessions.
    """

    source: str
    from_s: float
    lasts_s: float | None
    why: Message
    marked: bool = False

    @property
    def covers(self) -> Message:
        """What was not seen, in words."""
        return source_named(self.source) if self.source else msg("the whole bench")

    @property
    def lasts(self) -> Message:
        """How long, in words."""
        return msg("unknown time") if self.lasts_s is None else just(Amount(self.lasts_s, "s"))


def unseen(course: Course) -> list[Unseen]:
    """List every time the bench could not see or was not itself, in order of time."""
    found: dict[tuple[str, float, Message], tuple[Unseen, list[Message]]] = {}
    for told in sorted([*_told(course), *_blind(course)], key=lambda one: (one.from_s, one.source)):
        # What a mark and a state tell alike is one: same source, begin and length.
        key = (told.source, round(told.from_s, 1), told.lasts)
        _, whys = found.setdefault(key, (told, []))
        if told.why not in whys:
            whys.append(told.why)
    return [replace(one, why=joined("; ", whys)) for one, whys in found.values()]


def holes(course: Course) -> list[Hole]:
    """List the same as a page has it."""
    return [
        Hole(source=one.covers, from_s=one.from_s, lasts=one.lasts, why=one.why)
        for one in unseen(course)
    ]


def _told(course: Course) -> Iterator[Unseen]:
    # A gap whose length nobody knows ends where a session begins.
    unknown = {one.begins_at_s for one in course.sessions()[1:] if one.gap_s is None}
    for hole in course.told_holes:
        known = hole.source != EVERYTHING or hole.to_s not in unknown
        lasts_s = hole.to_s - hole.from_s if known else None
        yield Unseen(hole.source, hole.from_s, lasts_s, hole.why, marked=True)


def _blind(course: Course) -> Iterator[Unseen]:
    for source in course.sources:
        why = {
            state.t_s: str(state.detail.get("why", ""))
            for state in course.states(source)
            if state.state == BLIND
        }
        for period in course.periods(source):
            if period.state in UNSEEN:
                said = why.get(period.from_s)
                lasts_s = period.to_s - period.from_s
                yield Unseen(
                    source, period.from_s, lasts_s, just(said) if said else _UNTOLD[period.state]
                )


def at(t_s: float) -> str:
    """Write a soak time for people, `"2:14:07"`."""
    return clock_text(t_s, seconds=True)
