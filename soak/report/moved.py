"""What moving a plug showed, in words and bars for a chart."""

from collections.abc import Iterator
from dataclasses import dataclass

from soak.charts.bars import Bar
from soak.derive.course import Course
from soak.derive.moved import REST, movements
from soak.rules.wiggle import NO_EPISODE_WHEN_MOVED, force_words, heat_words, movement_words
from soak.words import NOTHING_SAID, Amount, Message, msg, paragraph


@dataclass(frozen=True, slots=True)
class Moved:
    """The episodes of one port by movement."""

    title: Message
    about: Message
    rows: tuple[Bar, ...]


def moved(course: Course) -> Iterator[Moved]:
    """Yield one for each port that was moved, cold and hot apart."""
    for need, terms in NO_EPISODE_WHEN_MOVED.legible(course.header.requirements):
        found = movements(need, terms, course)
        if not found:
            continue
        rows = []
        for name in (REST, *terms.movements):
            own = [one for one in found if one.movement == name]
            lengths = [event.to_s - event.from_s for one in own for event in one.events]
            longest = NOTHING_SAID
            if lengths:
                longest = msg("longest {time}", time=Amount(max(lengths), "s"))
            rows.append(Bar(movement_words(name), len(lengths), longest))
        time = Amount(terms.dwell_s, "s")
        force = force_words(terms.moved_by, terms.force_n)
        how = msg("Moved by {force}, each {time} a round.", force=force, time=time)
        title = msg(
            "Episodes by movement, port {port}, {heat}",
            port=terms.port,
            heat=heat_words(terms.heat),
        )
        yield Moved(title, paragraph(*map(_row_words, rows), how), tuple(rows))


def _row_words(row: Bar) -> Message:
    if not row.note:
        return msg("{movement}: {count}.", movement=row.words, count=row.count)
    return msg("{movement}: {count} ({note}).", movement=row.words, count=row.count, note=row.note)
