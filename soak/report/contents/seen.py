"""What a journal shows, as spans of time for charts and lists; derived as the judgement does it."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from soak.charts.axes import clock_text
from soak.derive.course import Course
from soak.derive.electric.power import unpowered
from soak.derive.events.faults import lost_by
from soak.derive.said import state_words
from soak.derive.seeing.holes import EVERYTHING, STOOD_STILL
from soak.derive.spans import Span
from soak.names import source_named
from soak.report.model import Hole
from soak.words import Amount, Message, counted, joined, just, msg

SHORT_S = 1.0
"""Standstills of this computer that are shorter are told together, s."""


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
    """List every time the bench could not see or was not itself, in order of time.

    What a mark and a state tell alike is one. A loss that a hole may explain stands among them: it
    is charged to nobody, and not passed over.
    """
    alike_: dict[tuple[str, float], list[Unseen]] = {}
    times = [*_told(course), *_blind(course), *_in_doubt(course)]
    for unseen in sorted(times, key=lambda one: (one.from_s, one.source)):
        alike_.setdefault(
            (unseen.source, round(unseen.from_s + (unseen.lasts_s or 0.0), 1)), []
        ).append(unseen)
    joint = [
        replace(alike[0], why=joined("; ", dict.fromkeys(gap.why for gap in alike)))
        for alike in alike_.values()
    ]
    return sorted([*joint, *_still(course)], key=lambda one: (one.from_s, one.source))


def holes(course: Course) -> list[Hole]:
    """List the same as a page has it."""
    return [
        Hole(source=gap.covers, from_s=gap.from_s, lasts=gap.lasts, why=gap.why)
        for gap in unseen(course)
    ]


def _told(course: Course) -> Iterator[Unseen]:
    # A gap whose length nobody knows ends where a session begins.
    unknown = {session.begins_at_s for session in course.sessions()[1:] if session.gap_s is None}
    for hole in course.told_holes:
        if hole.why is STOOD_STILL and hole.to_s - hole.from_s < SHORT_S:
            continue
        known = hole.source != EVERYTHING or hole.to_s not in unknown
        lasts_s = hole.to_s - hole.from_s if known else None
        yield Unseen(hole.source, hole.from_s, lasts_s, hole.why, marked=True)


def _blind(course: Course) -> Iterator[Unseen]:
    for source in course.sources:
        for hole in course.holes(source):
            if hole not in course.told_holes:
                yield Unseen(source, hole.from_s, hole.to_s - hole.from_s, hole.why)


def _in_doubt(course: Course) -> Iterator[Unseen]:
    for source, bad in lost_by(course.header).items():
        for loss in course.losses(source, bad):
            if not loss.charged:
                why = msg(
                    "it may be the bench's: {state} beside a hole", state=state_words(loss.state)
                )
                yield Unseen(source, loss.from_s, loss.length_s, why)


def _still(course: Course) -> Iterator[Unseen]:
    """Yield the short standstills of this computer as one entry."""
    short = [
        hole
        for hole in course.told_holes
        if hole.why is STOOD_STILL and hole.to_s - hole.from_s < SHORT_S
    ]
    if short:
        lasts_s = sum(hole.to_s - hole.from_s for hole in short)
        why = counted(
            len(short),
            "this computer stood still for a moment",
            "this computer stood still for {count} moments, together so long",
        )
        yield Unseen(EVERYTHING, short[0].from_s, lasts_s, why, marked=True)


def at(t_s: float) -> str:
    """Write a soak time for people, `"2:14:07"`."""
    return clock_text(t_s, seconds=True)
