"""Draw the charts of one soak from its journal, each wide for a page and narrow for a phone."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from soak.charts.band import QUIET, Piece, Row, band
from soak.charts.bars import bars
from soak.charts.dots import Dot, dots
from soak.charts.lines import Level, Line, letter, lines, speeds
from soak.derive.course import Course
from soak.derive.faults import stated_start_limit_s
from soak.derive.holes import gaps
from soak.derive.spans import Span, common, merged, minus
from soak.quantities import Quantity, show_duration, show_value
from soak.records import UNSEEN
from soak.report.model import Chart
from soak.report.moved import Moved, moved
from soak.report.seen import at, power_off

_USUALLY_BAD = frozenset({"black", "no signal", "frozen", "stalled", "gone"})
WIDE, NARROW = 720, 360

_AXES: Mapping[str, tuple[str, str]] = {
    "degC": ("Temperature", "temperature, °C"),
    "A": ("Current", "current, A"),
    "V": ("Voltage", "voltage, V"),
    "W": ("Power taken", "power, W"),
}


@dataclass(frozen=True, slots=True)
class Drawing:
    """A chart with what it says in words, and its two `<svg>`."""

    chart: Chart
    wide: str
    narrow: str


def draw(course: Course, number: int) -> list[Drawing]:
    """Draw all charts that this journal has data for; `number` makes their names unique."""
    found = [_starts(course, number), _states(course, number)]
    found[0:0] = [_readings(course, number, unit) for unit in _AXES]
    found.append(_speed(course, number))
    found += [_moved(one, f"s{number}-moved{at}") for at, one in enumerate(moved(course), 1)]
    return [drawing for drawing in found if drawing is not None]


def _both(chart: Chart, make: Callable[[str, int], str]) -> Drawing:
    return Drawing(chart, make(f"{chart.name}-w", WIDE), make(f"{chart.name}-n", NARROW))


def _unseen(course: Course, source: str) -> list[Span]:
    """Return the source's own blindness and the time between sessions.

    Other holes (a note, a fault elsewhere) leave its readings what they are: they are drawn.
    """
    own = [(one.from_s, one.to_s) for one in course.periods(source) if one.state in UNSEEN]
    return merged([*own, *((hole.from_s, hole.to_s) for hole in gaps(course.session_spans))])


def _spot(course: Course, quantity: Quantity) -> str:
    """Return the words for where a probe sits."""
    name = quantity.source.removeprefix("probe.")
    wired = course.header.fixture.get("probe", {}).get(name, {})
    spot = wired.get("spot", "") or name
    return str(course.header.model_sheet.get("spots", {}).get(spot, {}).get("text", spot))


def _readings(course: Course, number: int, unit: str) -> Drawing | None:
    """Draw all readings of one measurement unit over time."""
    found = [one for one in course.header.quantities if one.unit == unit]
    series, about, drawn = [], [], []
    for quantity in found:
        t_s, value = course.series(quantity.name)
        if not len(t_s):
            continue
        words = _spot(course, quantity)
        drawn.append(quantity.name)
        series.append(Line(words, t_s, value, _unseen(course, quantity.source)))
        high, low = int(np.argmax(value)), int(np.argmin(value))
        about.append(
            f"{words}: highest {show_value(float(value[high]), unit)} at {at(t_s[high])}, "
            f"lowest {show_value(float(value[low]), unit)} at {at(t_s[low])}."
        )
    if not series:
        return None
    title, axis = _AXES[unit]
    levels = _levels(course, drawn, unit)
    off = power_off(course)
    about += [f"Limit of line {level.words}." for level in levels]
    chart = Chart(name=f"s{number}-{unit.lower()}", title=title, about=" ".join(about))
    span_s = (0.0, course.ends_s)

    def make(name: str, width: int) -> str:
        return lines(
            name,
            chart.title,
            chart.about,
            series,
            axis=axis,
            span_s=span_s,
            limits=levels,
            off=off,
            width=width,
        )

    return _both(chart, make)


def _levels(course: Course, names: Sequence[str], unit: str) -> list[Level]:
    """Return the limits of the drawn quantities, each named by the letter of its line."""
    found = {
        (need.limit, need.rule, letter(names.index(need.quantity)))
        for need in course.header.requirements
        if need.rule in ("at most", "at least") and need.unit == unit and need.quantity in names
        if need.limit is not None
    }
    return [
        Level(f"{mark}: {rule} {show_value(limit, unit)}", limit)
        for limit, rule, mark in sorted(found)
    ]


def _starts(course: Course, number: int) -> Drawing | None:
    """Draw the starts as the judgement counts them; those in holes are told, not drawn."""
    # A short break that the unit did not notice made no start.
    made = [start for start in course.starts if start.took_s != 0.0]
    counted = [start for start in made if not start.hole]
    if not counted:
        return None
    limit_s = stated_start_limit_s(course)
    starts = [Dot(start.kind, start.took_s) for start in counted]
    times = [start.took_s for start in counted if start.took_s is not None]
    slow = sum(took_s > limit_s for took_s in times)
    about = f"{len(starts)} starts, {len(starts) - len(times)} of them without a picture"
    about += f", {slow} slower than the limit of {show_duration(limit_s)}."
    if times:
        about += f" Quickest {show_duration(min(times))}, slowest {show_duration(max(times))}."
    uncounted = len(made) - len(counted)
    if uncounted:
        about += f" {uncounted} more could not be watched and are not drawn."
    chart = Chart(name=f"s{number}-starts", title="Seconds from power to picture", about=about)
    return _both(
        chart,
        lambda name, width: dots(
            name, chart.title, chart.about, starts, limit_s=limit_s, width=width
        ),
    )


def _speed(course: Course, number: int) -> Drawing | None:
    series, about = [], []
    for quantity in course.header.quantities:
        if quantity.unit != "B/s":
            continue
        t_s, value = course.series(quantity.name)
        if not len(t_s):
            continue
        words = quantity.name.removeprefix("transfer.").replace(".", " ").replace("_", " ")
        series.append(Line(words, t_s, value, _unseen(course, quantity.source)))
        middle, low = float(np.median(value)), float(np.min(value))
        about.append(
            f"{words}: median {show_value(middle, 'B/s')}, lowest {show_value(low, 'B/s')}."
        )
    if not series:
        return None
    chart = Chart(name=f"s{number}-speed", title="Speed of data", about=" ".join(about))
    off, span_s = power_off(course), (0.0, course.ends_s)
    return _both(
        chart,
        lambda name, width: speeds(
            name, chart.title, chart.about, series, span_s=span_s, off=off, width=width
        ),
    )


def _moved(one: Moved, name: str) -> Drawing:
    chart = Chart(name=name, title=one.title, about=one.about)
    return _both(
        chart,
        lambda name, width: bars(name, chart.title, chart.about, one.rows, width=width),
    )


def _states(course: Course, number: int) -> Drawing | None:
    rows = [
        Row(words, _pieces(course, source))
        for source, words in (("capture", "picture"), ("stick", "stick"), ("link", "link"))
        if course.states(source)
    ]
    if not rows:
        return None
    about = " ".join(_row_words(row) for row in rows)
    chart = Chart(name=f"s{number}-states", title="What the bench saw", about=about)
    span_s = (0.0, course.ends_s)
    names = [str(one.get("name", "")) for one in course.header.script.get("stretches", [])]
    parts = [(name, *window) for name in names for window in course.windows(name)]
    return _both(
        chart,
        lambda name, width: band(
            name, chart.title, chart.about, rows, span_s=span_s, stretches=parts, width=width
        ),
    )


def _row_words(row: Row) -> str:
    counts: dict[str, tuple[int, float]] = {}
    for piece in row.pieces:
        if piece.state not in QUIET:
            times, lasted_s = counts.get(piece.state, (0, 0.0))
            counts[piece.state] = (times + 1, lasted_s + piece.to_s - piece.from_s)
    if not counts:
        return f"{row.words}: nothing out of order was seen."
    told = [f"{state} {n} times, {show_duration(s)} in all" for state, (n, s) in counts.items()]
    return f"{row.words}: {'; '.join(told)}."


def _pieces(course: Course, source: str) -> list[Piece]:
    """Cut a source's periods by the power: without power nothing that is seen means anything.

    Losses are those that the judgement derives; what else is not as it should be while there is
    power belongs to the start.
    """
    bad = _bad(course, source)
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


def _bad(course: Course, source: str) -> frozenset[str]:
    """Return the states of a source that the requirements call bad."""
    told = (
        need.params.get("bad", ()) for need in course.header.requirements if need.quantity == source
    )
    return frozenset(state for states in told for state in states) or _USUALLY_BAD


def _named(from_s: float, to_s: float, state: str) -> Piece:
    words = "" if state in QUIET else f"{state}, {show_duration(to_s - from_s)}"
    return Piece(from_s, to_s, state, words)
