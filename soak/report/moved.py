"""What moving a plug showed, in words and bars for a chart."""

from collections.abc import Iterator
from dataclasses import dataclass

from soak.charts.bars import Bar
from soak.derive.course import Course
from soak.rules.wiggle import RULE, movements
from soak.words import NOTHING_SAID, Amount, Message, msg, paragraph


@dataclass(frozen=True, slots=True)
class Moved:
    """The episodes of one port by movement."""

    title: Message
    about: Message
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
            longest = NOTHING_SAID
            if lengths:
                longest = msg("longest {time}", time=Amount(max(lengths), "s"))
            rows.append(Bar(name, len(lengths), longest))
        how = msg(
            "Moved by {force}, each {time} a round.",
            force=str(params.get("force", "")),
            time=Amount(float(params["dwell_s"]), "s"),
        )
        title = msg(
            "Episodes by movement, port {port}, {heat}",
            port=str(params["port"]),
            heat=str(params["heat"]),
        )
        yield Moved(title, paragraph(*map(_row_words, rows), how), tuple(rows))


def _row_words(row: Bar) -> Message:
    if not row.note:
        return msg("{movement}: {count}.", movement=row.words, count=row.count)
    return msg("{movement}: {count} ({note}).", movement=row.words, count=row.count, note=row.note)
