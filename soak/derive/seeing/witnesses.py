"""Whether a second instrument saw what the first one lost beside a hole of its own."""

from typing import TYPE_CHECKING

import numpy as np

from soak.derive.spans import Span, common, inside
from soak.states import GONE

if TYPE_CHECKING:  # a course asks us about itself
    from soak.derive.course import Course

TOGETHER_S = 1.0
"""Two instruments tell of the same loss within so long: a stick is asked, a link is looked at, now
and then. Our own choice."""

_OTHER = {"stick": "link", "link": "stick"}
"""Instruments that watch the same port in different ways."""

FALLEN_TO = 0.5
"""Of its usual current: a unit that draws less has gone off or restarted. Our own choice."""


def saw_it(course: "Course", source: str, from_s: float, to_s: float) -> bool:
    """Tell whether another instrument saw that the unit lost what a source lost then.

    Of a stick at the unit's port the link, and the other way round; of a picture the current or
    the power that the unit draws.
    """
    if source == "capture":
        return _draws_less(course, (from_s, to_s))
    other = _OTHER.get(source, "")
    if other not in course.sources or not course.stick_proves_unit or not _at_one_port(course):
        return False
    gone = [(p.from_s, p.to_s) for p in course.periods(other) if p.state == GONE]
    return bool(common(gone, [(from_s - TOGETHER_S, to_s + TOGETHER_S)]))


def _at_one_port(course: "Course") -> bool:
    """Tell whether stick and link are at one port of the unit; a link may watch the bench's."""
    fixture = course.header.fixture
    watched, held = (fixture.port_of(role) for role in ("link", "stick"))
    return bool(watched) and held in ("", watched)


def _draws_less(course: "Course", span: Span) -> bool:
    """Tell whether what the unit draws was seen to fall to half of what is usual for it."""
    for name, entry in course.header.fixture.probes.items():
        if entry.unit not in ("A", "W") or entry.at_port:
            continue
        t_s, value = course.series(f"probe.{name}")
        seen = ~inside(t_s, course.blind(f"probe.{name}"))
        usual, now = (value[seen & inside(t_s, spans)] for spans in (course.started, [span]))
        if len(now) and len(usual) and float(np.min(now)) < FALLEN_TO * float(np.median(usual)):
            return True
    return False
