"""What happened when, as plain data for charts, tables and reports."""

from collections.abc import Sequence
from dataclasses import dataclass

from soak.derive.course import course_of
from soak.derive.faults import UnitFault
from soak.derive.holes import EVERYTHING
from soak.derive.spans import minus
from soak.evidence import Evidence
from soak.judge.explain.exceeded import all_events


@dataclass(frozen=True, slots=True)
class Segment:
    """A span in one state."""

    from_s: float
    to_s: float
    state: str


@dataclass(frozen=True, slots=True)
class Lane:
    """One line of a timeline: `stretches`, `power`, a source, or `holes`."""

    name: str
    segments: Sequence[Segment]


def lanes(evidence: Evidence) -> Sequence[Lane]:
    """Return the lanes of a soak: stretches, power, each source's states, the bench's holes."""
    course = course_of(evidence)
    names = [str(entry.get("name")) for entry in course.header.script.get("stretches", ())]
    stretches = [Segment(*span, name) for name in names for span in course.windows(name)]
    off = minus(course.session_spans, course.power)
    power = [
        *(Segment(*span, "on") for span in course.power),
        *(Segment(*span, "off") for span in off),
    ]
    sources = [
        Lane(source, [Segment(p.from_s, p.to_s, p.state) for p in course.periods(source)])
        for source in course.sources
        if source != "switch"
    ]
    holes = [
        Segment(hole.from_s, hole.to_s, hole.why if hole.source == EVERYTHING else hole.source)
        for hole in course.told_holes
    ]
    return [
        Lane("stretches", sorted(stretches, key=_when)),
        Lane("power", sorted(power, key=_when)),
        *sources,
        Lane("holes", sorted(holes, key=_when)),
    ]


def _when(segment: Segment) -> float:
    return segment.from_s


def events(evidence: Evidence) -> Sequence[UnitFault]:
    """Return what speaks against the unit, in order of time."""
    return all_events(course_of(evidence))


def first_event(soaks: Sequence[Evidence]) -> tuple[str, UnitFault] | None:
    """Return soak id and the first thing that speaks against the unit; None if nothing does."""
    for soak in soaks:
        course = course_of(soak)
        found = all_events(course)
        if found:
            return course.header.soak_id, found[0]
    return None
