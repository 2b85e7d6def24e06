"""Draw the charts of one soak from its journal, each wide for a page and narrow for a phone.

What is drawn is gathered with the report; drawn it is when its page is set, in the page's language,
as only words that are said have a width.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

import numpy as np

from soak.charts.band import QUIET, Piece, Row, band
from soak.charts.bars import Bar, bars
from soak.charts.dots import Dot, dots
from soak.charts.lines import Level, Line, letter, lines, speeds
from soak.derive.course import Course
from soak.derive.events.faults import lost_states
from soak.derive.events.moved import REST, movements
from soak.derive.said import starts_called, state_words
from soak.derive.seeing.holes import gaps
from soak.derive.spans import Span, common, merged, minus
from soak.instruments import LOSABLE, ROLES
from soak.judge.judging import level_side
from soak.language import Language
from soak.names import named
from soak.quantities import Quantity
from soak.records import Role
from soak.report.contents.seen import at, power_off
from soak.report.contents.wording import limit_words
from soak.report.model import Chart
from soak.rules.wiggle import NO_EPISODE_WHEN_MOVED, force_words, heat_words, movement_words
from soak.states import UNSEEN
from soak.words import (
    NOTHING_SAID,
    Amount,
    Message,
    Said,
    counted,
    joined,
    just,
    msg,
    paragraph,
    sentence,
    typed_in,
)


@dataclass(frozen=True, slots=True)
class Moved:
    """The episodes of one port by movement."""

    title: Message
    about: Message
    rows: tuple[Bar, ...]


def moved(course: Course) -> Iterator[Moved]:
    """Yield one for each port that was moved, cold and hot apart."""
    for need, terms in NO_EPISODE_WHEN_MOVED.legible(course.header.requirements):
        moves = movements(need, terms, course)
        if not moves:
            continue
        rows = []
        for name in (REST, *terms.movements):
            own = [move for move in moves if move.movement == name]
            lengths = [event.to_s - event.from_s for move in own for event in move.events]
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
        yield Moved(title, paragraph(*map(_moved_words, rows), how), tuple(rows))


def _moved_words(row: Bar) -> Message:
    if not row.note:
        return msg("{movement}: {count}.", movement=row.words, count=row.count)
    return msg("{movement}: {count} ({note}).", movement=row.words, count=row.count, note=row.note)


WIDE = 720
NARROW = 360

_AXES: Mapping[str, tuple[Message, Message]] = {
    "degC": (msg("Temperature"), msg("temperature, °C")),
    "A": (msg("Current"), msg("current, A")),
    "V": (msg("Voltage"), msg("voltage, V")),
    "W": (msg("Power taken"), msg("power, W")),
}
_SPEEDS: Mapping[str, Message] = {
    "transfer.stick.speed": msg("stick speed"),
    "transfer.stick.write_speed": msg("stick write speed"),
}
_STATES: Mapping[str, Message] = {"off": msg("off"), "starting": msg("starting")}
"""States that a drawing makes of power and starts."""
Make = Callable[..., str]
"""Draws a chart: takes `name`, `title`, `about`, `say` and `width`, returns the `<svg>`."""


def _as_typed(text: str) -> Said:
    return text


@dataclass(frozen=True, slots=True)
class Drawing:
    """A chart with what it says in words, and how it is drawn.

    Attributes
    ----------
    make : callable
        Draws it.
    change : callable
        What becomes of typed text in it.
    """

    chart: Chart
    make: Make
    change: Callable[[str], Said] = _as_typed
    _drawn: dict[tuple[str, int], str] = field(default_factory=dict, init=False, compare=False)

    def wide(self, speaks: Language) -> str:
        """Return its `<svg>` for a page."""
        return self._in(speaks, WIDE, "w")

    def narrow(self, speaks: Language) -> str:
        """Return its `<svg>` for a phone."""
        return self._in(speaks, NARROW, "n")

    def _in(self, speaks: Language, width: int, sign: str) -> str:
        def say(told: Said) -> str:
            return speaks.say(typed_in(just(told), self.change))

        chart = self.chart
        key = (speaks.code, width)
        if key not in self._drawn:
            self._drawn[key] = self.make(
                f"{chart.name}-{sign}", chart.title, chart.about, say=say, width=width
            )
        return self._drawn[key]


def draw(course: Course, number: int) -> list[Drawing]:
    """Draw all charts that this journal has data for; `number` makes their names unique."""
    drawings = [_starts(course, number), _states(course, number)]
    drawings[0:0] = [_readings(course, number, unit) for unit in _AXES]
    drawings.append(_speed(course, number))
    drawings += [_moved(one, f"s{number}-moved{at}") for at, one in enumerate(moved(course), 1)]
    return [drawing for drawing in drawings if drawing is not None]


def _unseen(course: Course, source: str) -> list[Span]:
    """Return the source's own blindness and the time between sessions.

    Other holes (a note, a fault elsewhere) leave its readings what they are: they are drawn.
    """
    own = [
        (period.from_s, period.to_s) for period in course.periods(source) if period.state in UNSEEN
    ]
    return merged([*own, *((hole.from_s, hole.to_s) for hole in gaps(course.session_spans))])


def _spot(course: Course, quantity: Quantity) -> Said:
    """Return the words for where a probe sits."""
    name = quantity.source.removeprefix("probe.")
    wired = course.header.fixture.probes.get(name)
    place = name if wired is None else wired.spot or name
    spot = course.header.model_sheet.spots.get(place)
    return named(place) if spot is None else spot.text


def _readings(course: Course, number: int, unit: str) -> Drawing | None:
    """Draw all readings of one measurement unit over time."""
    quantities = [quantity for quantity in course.header.quantities if quantity.unit == unit]
    series = []
    about = []
    drawn = []
    for quantity in quantities:
        t_s, value = course.series(quantity.name)
        if not len(t_s):
            continue
        words = _spot(course, quantity)
        drawn.append(quantity.name)
        series.append(Line(words, t_s, value, _unseen(course, quantity.source)))
        high = int(np.argmax(value))
        low = int(np.argmin(value))
        text = msg(
            "{spot}: highest {high} at {high_at}, lowest {low} at {low_at}.",
            spot=words,
            high=Amount(float(value[high]), unit),
            high_at=at(t_s[high]),
            low=Amount(float(value[low]), unit),
            low_at=at(t_s[low]),
        )
        about.append(text)
    if not series:
        return None
    title, axis = _AXES[unit]
    levels = _levels(course, drawn, unit)
    about += [msg("Limit of line {level}.", level=level.words) for level in levels]
    chart = Chart(name=f"s{number}-{unit.lower()}", title=title, about=paragraph(*about))
    span_s = (0.0, course.ends_s)
    off = power_off(course)
    make = partial(lines, series=series, axis=axis, span_s=span_s, limits=levels, off=off)
    return Drawing(chart, make)


def _levels(course: Course, names: Sequence[str], unit: str) -> list[Level]:
    """Return the limits of the drawn quantities, each named by the letter of its line."""
    by_level = {
        (need.limit, letter(names.index(need.quantity)), limit_words(need))
        for need in course.header.requirements
        if need.unit == unit and need.quantity in names and need.limit is not None
        if level_side(need) is not None
    }
    return [
        Level(msg("{line}: {limit}", line=mark, limit=words), limit)
        for limit, mark, words in sorted(by_level, key=lambda one: one[:2])
    ]


def _starts(course: Course, number: int) -> Drawing | None:
    """Draw the starts as the judgement counts them; those in holes are told, not drawn."""
    # A short break that the unit did not notice made no start.
    made = [start for start in course.starts if start.took_s != 0.0]
    shown = [start for start in made if not start.hole]
    if not shown:
        return None
    limit_s = course.start_limit().limit_s
    starts = [
        Dot(starts_called(start.kind, 1) if start.kind else msg("start"), start.took_s)
        for start in shown
    ]
    times = [start.took_s for start in shown if start.took_s is not None]
    text = joined(
        ", ",
        [
            counted(len(starts), "1 start", "{count} starts"),
            msg("{number} of them without a picture", number=len(starts) - len(times)),
            msg(
                "{number} slower than the limit of {limit}",
                number=sum(took_s > limit_s for took_s in times),
                limit=Amount(limit_s, "s"),
            ),
        ],
    )
    unwatched = counted(
        len(made) - len(shown),
        "1 more could not be watched and is not drawn.",
        "{count} more could not be watched and are not drawn.",
        none=NOTHING_SAID,
    )
    chart = Chart(
        name=f"s{number}-starts",
        title=msg("Seconds from power to picture"),
        about=paragraph(sentence(text), _quickest(times), unwatched),
    )
    return Drawing(chart, partial(dots, starts=starts, limit_s=limit_s))


def _quickest(times: Sequence[float]) -> Message:
    if not times:
        return NOTHING_SAID
    return msg(
        "Quickest {least}, slowest {most}.",
        least=Amount(min(times), "s"),
        most=Amount(max(times), "s"),
    )


def _speed(course: Course, number: int) -> Drawing | None:
    series = []
    about = []
    for quantity in course.header.quantities:
        if quantity.unit != "B/s":
            continue
        t_s, value = course.series(quantity.name)
        if not len(t_s):
            continue
        words = _SPEEDS.get(quantity.name) or just(_plain(quantity.name))
        series.append(Line(words, t_s, value, _unseen(course, quantity.source)))
        text = msg(
            "{what}: median {middle}, lowest {low}.",
            what=words,
            middle=Amount(float(np.median(value)), "B/s"),
            low=Amount(float(np.min(value)), "B/s"),
        )
        about.append(text)
    if not series:
        return None
    chart = Chart(name=f"s{number}-speed", title=msg("Speed of data"), about=paragraph(*about))
    off = power_off(course)
    span_s = (0.0, course.ends_s)
    return Drawing(chart, partial(speeds, series=series, span_s=span_s, off=off))


def _plain(quantity: str) -> str:
    return quantity.removeprefix("transfer.").replace(".", " ").replace("_", " ")


def _moved(one: Moved, name: str) -> Drawing:
    chart = Chart(name=name, title=one.title, about=one.about)
    return Drawing(chart, partial(bars, rows=one.rows))


def _states(course: Course, number: int) -> Drawing | None:
    rows = [
        Row(_row(source), _pieces(course, source)) for source in LOSABLE if course.states(source)
    ]
    if not rows:
        return None
    about = paragraph(*map(_row_words, rows))
    chart = Chart(name=f"s{number}-states", title=msg("What the bench saw"), about=about)
    span_s = (0.0, course.ends_s)
    names = [stretch.name for stretch in course.header.script.stretches]
    parts = [(named(name), *window) for name in names for window in course.windows(name)]
    return Drawing(chart, partial(band, rows=rows, span_s=span_s, stretches=parts, called=_called))


def _row(source: Role) -> Message:
    """Return what a row is of: the picture, not its capture."""
    return msg("picture") if source == "capture" else ROLES[source].called


def _called(state: str) -> Said:
    return _STATES.get(state) or state_words(state)


def _row_words(row: Row) -> Message:
    counts: dict[str, tuple[int, float]] = {}
    for piece in row.pieces:
        if piece.state not in QUIET:
            times, lasted_s = counts.get(piece.state, (0, 0.0))
            counts[piece.state] = (times + 1, lasted_s + piece.to_s - piece.from_s)
    if not counts:
        return msg("{source}: nothing out of order was seen.", source=row.words)
    sentences = [
        counted(
            times,
            "{state} 1 time, {time} in all",
            "{state} {count} times, {time} in all",
            state=_called(state),
            time=Amount(lasted_s, "s"),
        )
        for state, (times, lasted_s) in counts.items()
    ]
    return msg("{source}: {states}.", source=row.words, states=joined("; ", sentences))


def _pieces(course: Course, source: str) -> list[Piece]:
    """Cut a source's periods by the power: without power nothing that is seen means anything.

    Losses are those that the judgement derives; what else is not as it should be while there is
    power belongs to the start.
    """
    bad = lost_states(source, course.header)
    losses = course.losses(source, bad)
    pieces = [Piece(begin_s, end_s, "off") for begin_s, end_s in power_off(course)]
    pieces += [_named(loss.from_s, loss.to_s, loss.state) for loss in losses]
    lost = [(loss.from_s, loss.to_s) for loss in losses]
    periods = course.periods(source)
    for state in dict.fromkeys(period.state for period in periods):
        spans = [(period.from_s, period.to_s) for period in periods if period.state == state]
        spans = common(spans, course.power)
        if state in bad:
            pieces += [Piece(*span, "starting") for span in minus(spans, lost)]
        elif state in UNSEEN:
            pieces += [_named(*span, state) for span in spans]
        else:
            pieces += [Piece(*span, state) for span in spans]
    return sorted(pieces, key=lambda piece: (piece.from_s, piece.to_s))


def _named(from_s: float, to_s: float, state: str) -> Piece:
    if state in QUIET:
        return Piece(from_s, to_s, state)
    time = Amount(to_s - from_s, "s")
    words = msg("{state}, {time}", state=_called(state), time=time)
    return Piece(from_s, to_s, state, words)
