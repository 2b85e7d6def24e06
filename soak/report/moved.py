"""What moving a plug showed, in words and bars for a chart."""

from collections.abc import Iterator
from dataclasses import dataclass

from soak.charts.bars import Bar
from soak.derive.course import Course
from soak.derive.moved import REST, movements
from soak.quantities import show_duration
from soak.rules.wiggle import NO_EPISODE_WHEN_MOVED


@dataclass(frozen=True, slots=True)
class Moved:
    """The episodes of one port by movement."""

    title: str
    about: str
    rows: tuple[Bar, ...]


def moved(course: Course) -> Iterator[Moved]:
    """Yield one for each port that was moved, cold and hot apart."""
    for need, terms in NO_EPISODE_WHEN_MOVED.among(course.header.requirements):
        found = movements(need, terms, course)
        if not found:
            continue
        rows = []
        for name in (REST, *terms.movements):
            own = [one for one in found if one.movement == name]
            lengths = [event.to_s - event.from_s for one in own for event in one.events]
            note = f"longest {show_duration(max(lengths))}" if lengths else ""
            rows.append(Bar(name, len(lengths), note))
        about = [f"{row.words}: {row.count}{f' ({row.note})' if row.note else ''}." for row in rows]
        about.append(f"Moved by {terms.force}, each {show_duration(terms.dwell_s)} a round.")
        title = f"Episodes by movement, port {terms.port}, {terms.heat}"
        yield Moved(title, " ".join(about), tuple(rows))
