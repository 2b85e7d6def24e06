"""What a journal shows, as spans of time for charts and lists; derived as the judgement does it."""

from collections.abc import Sequence

from soak.charts.axes import clock_text
from soak.derive.course import Course
from soak.derive.holes import EVERYTHING
from soak.derive.power import unpowered
from soak.derive.spans import Span
from soak.quantities import show_duration
from soak.records import BLIND, PROTECTED, UNSEEN
from soak.report.model import Hole

_PROTECTED = "the unit sent its picture as protected output, which no capture can see"


def power_off(course: Course) -> list[Span]:
    """Return the spans in s without power; none if there is no switch."""
    if "switch" not in course.roles:
        return []
    return unpowered(course.power, 0.0, course.ends_s)


def holes(course: Course) -> list[Hole]:
    """List every time the bench could not see or was not itself, in order of time."""
    # A gap whose length nobody knows ends where a session begins.
    unknown = {one.begins_at_s for one in course.sessions()[1:] if one.gap_s is None}
    found = [
        Hole(
            source="bench" if hole.source == EVERYTHING else hole.source,
            from_s=hole.from_s,
            lasts="unknown time"
            if hole.source == EVERYTHING and hole.to_s in unknown
            else show_duration(hole.to_s - hole.from_s),
            why=hole.why,
        )
        for hole in course.told_holes
    ]
    for source in course.sources:
        why = {
            state.t_s: str(state.detail.get("why", ""))
            for state in course.states(source)
            if state.state == BLIND
        }
        untold = {BLIND: "the bench could not see it", PROTECTED: _PROTECTED}
        found += [
            Hole(
                source=source,
                from_s=period.from_s,
                lasts=show_duration(period.to_s - period.from_s),
                why=why.get(period.from_s, "") or untold[period.state],
            )
            for period in course.periods(source)
            if period.state in UNSEEN
        ]
    return _joined(sorted(found, key=lambda hole: (hole.from_s, hole.source, hole.why)))


def _joined(found: Sequence[Hole]) -> list[Hole]:
    """Join what is told twice, by a mark and by a state: same source, begin and length."""
    joined: dict[tuple[str, float, str], Hole] = {}
    for hole in found:
        key = (hole.source, round(hole.from_s, 1), hole.lasts)
        known = joined.get(key)
        if known is None:
            joined[key] = hole
        elif hole.why not in known.why:
            why = f"{known.why}; {hole.why}"
            joined[key] = Hole(source=hole.source, from_s=known.from_s, lasts=hole.lasts, why=why)
    return list(joined.values())


def at(t_s: float) -> str:
    """Write a soak time for people, `"2:14:07"`."""
    return clock_text(t_s, seconds=True)
