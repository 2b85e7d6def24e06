"""Readings of a quantity within a stretch, and when there were none."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from soak.derive.course import Course
from soak.derive.spans import Span, inside, merged, minus, total_s
from soak.evidence import Floats
from soak.names import source_named
from soak.records import Requirement
from soak.states import STALLED
from soak.words import Amount, Message, counted

SILENT_S = 300.0
"""An instrument that reads nothing for so long was not measuring, whatever state it claims to be
in. Our own choice."""


@dataclass(frozen=True, slots=True)
class Trace:
    """Readings that count, and when nothing was read.

    Attributes
    ----------
    t_s, value : ndarray
        Shape (n,), in order of time; readings taken in a hole are left out.
    unseen : sequence of (float, float)
        When the source was blind or silent.
    """

    t_s: Floats
    value: Floats
    unseen: Sequence[Span]


def source_of(course: Course, quantity: str) -> str:
    """Return the instrument that a quantity comes from."""
    known = (entry.source for entry in course.header.quantities if entry.name == quantity)
    stated = next(known, "")
    if stated:
        return stated
    return "stick" if quantity.startswith("transfer.") else quantity


def trace(course: Course, requirement: Requirement, quantity: str = "") -> Trace:
    """Return the readings of a requirement's quantity (or another) within its stretch."""
    quantity = quantity or requirement.quantity
    t_s, value = course.series(quantity, requirement.stretch)
    source = source_of(course, quantity)
    blind = course.blind(source)
    seen = ~inside(t_s, _taken_in(course, source, blind))
    # One that stalls says nothing until it is over, and then how long that took.
    stalled = [(p.from_s, p.to_s) for p in course.periods(source) if p.state == STALLED]
    excused = [*blind, *stalled, *_off(course)] if source == "stick" else blind
    quiet = _silences(t_s, course.windows(requirement.stretch), excused)
    unseen = merged([*blind, *quiet])
    if seen.all():  # the usual case; millions of readings need not be copied
        return Trace(t_s, value, unseen)
    return Trace(t_s[seen], value[seen], unseen)


def _taken_in(course: Course, source: str, blind: Sequence[Span]) -> Sequence[Span]:
    """Return in which holes a reading counts for nothing.

    A chunk is told of when it is done: what it took is known though the bench looked away then.
    """
    if source != "stick":
        return blind
    apart = [hole for hole in course.holes(source) if hole.after_s or hole.unit_too]
    return [(hole.from_s, hole.to_s) for hole in apart]


def not_counted(course: Course) -> list[tuple[float, Message]]:
    """Return when which readings were set aside, a line for each source, in order of time."""
    spans = []
    for source in course.sources:
        aside = course.set_aside(source)
        lone = sorted([*aside.garbled, *aside.unconfirmed])
        if lone:
            at_s, degc = lone[0]
            sentence = counted(
                len(lone),
                "1 garbled reading of {probe} counts for nothing: {value} at {time}",
                "{count} garbled readings of {probe} count for nothing, the first {value} at "
                "{time}",
                probe=source_named(source),
                value=Amount(degc, "degC"),
                time=Amount(at_s, "s"),
            )
            spans.append((at_s, sentence))
    return sorted(spans, key=lambda one: one[0])


def uninterrupted(course: Course, one: Trace) -> Trace:
    """Leave out chunks during which the power went, and of all others what the bench did not see.

    A chunk that stood still for 16 s stood still, though the bench looked away for 0.1 s of it.
    """
    ends_s, keep = _ends(course, one)
    return _seen_of(one, ends_s, keep & (ends_s == one.t_s))


def up_to_off(course: Course, one: Trace) -> Trace:
    """Return the same, and of a chunk during which the power went what it took until then.

    For limits far longer than a switch takes: it is not known to the tenth of a second when the
    power went.
    """
    return _seen_of(one, *_ends(course, one))


def _ends(course: Course, one: Trace) -> tuple[Floats, NDArray[np.bool_]]:
    """Return when each chunk ended or its power went, s, and whether it began with power."""
    off = minus(course.session_spans, course.power)
    begun_s = one.t_s - one.value
    ends_s = one.t_s
    if off:
        went_s = np.array([begin_s for begin_s, _ in off])
        following = np.minimum(np.searchsorted(went_s, begun_s), len(went_s) - 1)
        cut = (went_s[following] >= begun_s) & (went_s[following] < ends_s)
        ends_s = np.where(cut, went_s[following], ends_s)
    return ends_s, ~inside(begun_s, off)


def _seen_of(one: Trace, ends_s: Floats, keep: NDArray[np.bool_]) -> Trace:
    begun_s = one.t_s - one.value
    value = one.value - (one.t_s - ends_s) - _overlaps(begun_s, ends_s, merged(one.unseen))
    return Trace(ends_s[keep], value[keep], one.unseen)


def _overlaps(from_s: Floats, to_s: Floats, spans: Sequence[Span]) -> Floats:
    """Return for each of the times, shapes (n,), how much of it lies in the spans, s."""
    if not spans:
        return np.zeros(len(to_s))
    edges = np.array(spans, dtype=float)
    before_s = np.concatenate(([0.0], np.cumsum(edges[:, 1] - edges[:, 0])))

    def until(t_s: Floats) -> Floats:
        begun = np.searchsorted(edges[:, 0], t_s, side="right")
        last = np.maximum(begun - 1, 0)
        beyond = np.where(begun > 0, np.maximum(edges[last, 1] - t_s, 0.0), 0.0)
        return np.asarray(before_s[begun] - beyond)

    return until(to_s) - until(from_s)


def _off(course: Course) -> list[Span]:
    """Return when the unit was off or starting: no data crosses its port then."""
    return minus(course.session_spans, course.started)


def _silences(t_s: Floats, windows: Sequence[Span], excused: Sequence[Span]) -> list[Span]:
    """Return the spans between readings that are too long even without their excused part."""
    silences: list[Span] = []
    for begin_s, end_s in windows:
        first = np.searchsorted(t_s, begin_s)
        after = np.searchsorted(t_s, end_s, side="right")
        for gap in _gaps(begin_s, t_s[first:after], end_s):
            rest = minus([gap], excused)
            if total_s(rest) > SILENT_S:
                silences += rest
    return silences


def _gaps(begin_s: float, t_s: Floats, end_s: float) -> list[Span]:
    """Return the spans without a reading that are too long."""
    if not len(t_s):
        return [(begin_s, end_s)] if end_s - begin_s > SILENT_S else []
    wide = np.flatnonzero(np.diff(t_s) > SILENT_S)
    between = [(float(t_s[at]), float(t_s[at + 1])) for at in wide]
    edges = [(begin_s, float(t_s[0])), *between, (float(t_s[-1]), end_s)]
    return [(a, b) for a, b in edges if b - a > SILENT_S]
