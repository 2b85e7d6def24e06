"""What moving a plug showed, in words and bars for a chart."""

from collections.abc import Iterator
from dataclasses import dataclass

from soak.charts.bars import Bar
from soak.derive.course import Course
from soak.quantities import show_duration
from soak.rules.wiggle import RULE, movements


@dataclass(frozen=True, slots=True)
class Moved:
    """The episodes of one port by movement."""

    title: str
    about: str
    rows: tuple[Bar, ...]


def moved(course: Course) -> Iterator[Moved]:
    """Yield one for each port that was moved, cold and hot apart."""
    for requirement in course.header.requirements:
        found = movements(requirement, course) if requirement.rule == RULE else []
        if not found:
            continue
        params, rows = requirement.params, []
        for name in ("rest", *params["movements"]):
            own = [one for one in found if one.movement == name]
            lengths = [to_s - from_s for one in own for from_s, to_s, _ in one.events]
            note = f"longest {show_duration(max(lengths))}" if lengths else ""
            rows.append(Bar(name, len(lengths), note))
        about = [f"{row.words}: {row.count}{f' ({row.note})' if row.note else ''}." for row in rows]
        force = str(params.get("force", ""))
        about.append(f"Moved by {force}, each {show_duration(float(params['dwell_s']))} a round.")
        title = f"Episodes by movement, port {params['port']}, {params['heat']}"
        yield Moved(title, " ".join(about), tuple(rows))
