"""Readings of a quantity within a stretch, and when there were none."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from soak.derive.course import Course
from soak.derive.signs import PLAUSIBLE_DEGC
from soak.derive.spans import Span, inside, merged, minus, runs, total_s, touching
from soak.evidence import Floats
from soak.records import Requirement

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


def plausible(course: Course, quantity: str, value: Floats) -> NDArray[np.bool_]:
    """Tell which readings may be true of a unit on a bench: a torn probe reads anything."""
    known = (entry.unit for entry in course.header.quantities if entry.name == quantity)
    if next(known, "") != "degC":
        return np.ones(len(value), dtype=bool)
    return np.asarray((value > PLAUSIBLE_DEGC[0]) & (value < PLAUSIBLE_DEGC[1]))


def trace(course: Course, requirement: Requirement, quantity: str = "") -> Trace:
    """Return the readings of a requirement's quantity (or another) within its stretch."""
    quantity = quantity or requirement.quantity
    t_s, value = course.series(quantity, requirement.stretch)
    source = source_of(course, quantity)
    blind = course.blind(source)
    believed = plausible(course, quantity, value)
    seen = believed & ~inside(t_s, blind)
    blind = merged([*blind, *runs(t_s, ~believed)])
    excused = [*blind, *_off(course)] if source == "stick" else blind
    quiet = _silences(t_s, course.windows(requirement.stretch), excused)
    unseen = merged([*blind, *quiet])
    if seen.all():  # the usual case; millions of readings need not be copied
        return Trace(t_s, value, unseen)
    return Trace(t_s[seen], value[seen], unseen)


def uninterrupted(course: Course, one: Trace) -> Trace:
    """Leave out chunks during which the bench went blind or the power went: those are no stalls."""
    breaks: list[Span] = [*one.unseen, *minus(course.session_spans, course.power)]
    keep = ~inside(one.t_s, breaks)
    for at in np.flatnonzero(one.value > 1.0):  # a short chunk beside a hole decides nothing
        begin_s = float(one.t_s[at] - one.value[at])
        keep[at] &= touching(begin_s, float(one.t_s[at]), breaks) is None
    return Trace(one.t_s[keep], one.value[keep], one.unseen)


def _off(course: Course) -> list[Span]:
    """Return when the unit was off or starting: no data crosses its port then."""
    return minus(course.session_spans, course.started)


def _silences(t_s: Floats, windows: Sequence[Span], excused: Sequence[Span]) -> list[Span]:
    """Return the spans between readings that are too long even without their excused part."""
    found: list[Span] = []
    for begin_s, end_s in windows:
        first, after = np.searchsorted(t_s, begin_s), np.searchsorted(t_s, end_s, side="right")
        for gap in _gaps(begin_s, t_s[first:after], end_s):
            rest = minus([gap], excused)
            if total_s(rest) > SILENT_S:
                found += rest
    return found


def _gaps(begin_s: float, t_s: Floats, end_s: float) -> list[Span]:
    """Return the spans without a reading that are too long."""
    if not len(t_s):
        return [(begin_s, end_s)] if end_s - begin_s > SILENT_S else []
    wide = np.flatnonzero(np.diff(t_s) > SILENT_S)
    between = [(float(t_s[at]), float(t_s[at + 1])) for at in wide]
    edges = [(begin_s, float(t_s[0])), *between, (float(t_s[-1]), end_s)]
    return [(a, b) for a, b in edges if b - a > SILENT_S]
