"""Trips of the guard: whose they were, and whether the switch confirmed that the power was off."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np

from soak.derive.course import Course
from soak.derive.events.garbled import SAME_TIME_S, in_range
from soak.marks import PowerChanged, Tripped, facts
from soak.names import source_named
from soak.records import Mark
from soak.words import NOTHING_SAID, Amount, Message, msg

AT_ONCE_S = 10.0
"""A switch that confirms an off within this time did so at once: a serial board is asked again
within that. Our own choice."""


class Whose(Enum):
    """Who brought the guard to trip."""

    UNIT = "the unit"
    BENCH = "the bench"
    UNKNOWN = "cannot be told"


@dataclass(frozen=True, slots=True)
class Trip:
    """One trip.

    Attributes
    ----------
    t_s : float
        Soak time of the reading that the guard tripped on, s.
    source : str
        The probe; empty where an old journal does not say.
    told : Message
        What happened, in small letters and without a full stop; the reason, where not the unit's.
    off_after_s : float or None
        When the switch had confirmed that the power was off, s after it; None: never.
    """

    t_s: float
    source: str
    whose: Whose
    told: Message
    off_after_s: float | None

    @property
    def confirmed(self) -> bool:
        """Whether the switch confirmed at once that the power was off."""
        return self.off_after_s is not None and self.off_after_s <= AT_ONCE_S


def trips(course: Course) -> Sequence[Trip]:
    """Return the trips of a soak, in order of time."""
    return course.once(
        ("trips",), lambda: [_trip(course, *fact) for fact in facts(course, Tripped)]
    )


def _trip(course: Course, mark: Mark, tripped: Tripped) -> Trip:
    whose, sentence = _judged(course, mark, tripped)
    powers = facts(course, PowerChanged)
    offs = [m.t_s for m, power in powers if not power.on and m.t_s >= mark.t_s]
    return Trip(
        mark.t_s,
        tripped.source,
        whose,
        told=sentence,
        off_after_s=offs[0] - mark.t_s if offs else None,
    )


def _judged(course: Course, mark: Mark, tripped: Tripped) -> tuple[Whose, Message]:
    source = tripped.source
    probe = source_named(source) if source else msg("a probe")
    aside = course.set_aside(source)
    value = tripped.value
    if value is not None and not in_range(np.array([value]))[0]:
        return Whose.BENCH, msg(
            "the guard cut the power as {probe} read {value}, which no spot of a unit can have: "
            "look at the probe and its cable",
            probe=probe,
            value=Amount(value, "degC"),
        )
    if (degc := _read_at(mark.t_s, aside.garbled)) is not None:
        return Whose.BENCH, msg(
            "the guard cut the power for one garbled reading: {probe} read {value} once, and what "
            "it had read before right after; look at its cable",
            probe=probe,
            value=Amount(degc, "degC"),
        )
    if (degc := _read_at(mark.t_s, aside.unconfirmed)) is not None:
        return Whose.UNKNOWN, msg(
            "the guard cut the power as {probe} read {value}, far from what it had read before, "
            "and nothing could be read after it: whether the unit was so hot cannot be told",
            probe=probe,
            value=Amount(degc, "degC"),
        )
    if any(from_s < mark.t_s <= to_s for from_s, to_s in course.blind(source)):
        return Whose.UNKNOWN, msg(
            "the guard cut the power: {source} passed its trip while it was not to be believed",
            source=probe,
        )
    return Whose.UNIT, msg("the guard cut the power: {source} passed its trip", source=probe)


def _read_at(t_s: float, readings: Sequence[tuple[float, float]]) -> float | None:
    return next((degc for at_s, degc in readings if abs(at_s - t_s) <= SAME_TIME_S), None)


def cut(course: Course) -> list[tuple[float, Message]]:
    """Return when the guard cut the power for what was not the unit's, in order of time."""
    return [(trip.t_s, trip.told) for trip in trips(course) if trip.whose is not Whose.UNIT]


def why_cut(course: Course) -> Message:
    """Say why the guard cut the power for good in a soak; empty if it did not."""
    cuts = trips(course)
    return cuts[0].told if cuts else NOTHING_SAID


def never_off(course: Course) -> Message:
    """Say of the first trip after which the switch did not confirm the off; empty if each was."""
    for trip in trips(course):
        if trip.confirmed:
            continue
        probe = source_named(trip.source) if trip.source else msg("a probe")
        if trip.off_after_s is None:
            return msg(
                "At {time} {probe} passed its trip, the guard ordered the power off, and the "
                "switch never confirmed it: the unit may have stayed on.",
                time=Amount(trip.t_s, "s"),
                probe=probe,
            )
        return msg(
            "At {time} {probe} passed its trip, the guard ordered the power off, and the switch "
            "confirmed it only {late} later.",
            time=Amount(trip.t_s, "s"),
            probe=probe,
            late=Amount(trip.off_after_s, "s"),
        )
    return NOTHING_SAID
