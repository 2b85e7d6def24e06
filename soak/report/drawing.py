"""Draw the charts of one soak from its journal, each wide for a page and narrow for a phone."""

import itertools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from soak.charts.band import QUIET, Piece, Row, band
from soak.charts.dots import Dot, dots
from soak.charts.lines import Level, Line, lines, speeds
from soak.journal.base import Evidence
from soak.quantities import Quantity, show_duration, show_value
from soak.report.model import Chart
from soak.report.seen import at, blind, power_off, spans_of

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


def draw(evidence: Evidence, number: int) -> list[Drawing]:
    """Draw all charts that this journal has data for; `number` makes their names unique."""
    found = [_starts(evidence, number), _states(evidence, number)]
    found[0:0] = [_readings(evidence, number, unit) for unit in _AXES]
    found.append(_speed(evidence, number))
    return [drawing for drawing in found if drawing is not None]


def _both(chart: Chart, make: Callable[[str, int], str]) -> Drawing:
    return Drawing(chart, make(f"{chart.name}-w", WIDE), make(f"{chart.name}-n", NARROW))


def _spot(evidence: Evidence, quantity: Quantity) -> str:
    """Return the words for where a probe sits."""
    name = quantity.source.removeprefix("probe.")
    wired = evidence.header.fixture.get("probe", {}).get(name, {})
    spot = wired.get("spot", "") or name
    return str(evidence.header.model_sheet.get("spots", {}).get(spot, {}).get("text", spot))


def _readings(evidence: Evidence, number: int, unit: str) -> Drawing | None:
    """Draw all readings of one measurement unit over time."""
    found = [one for one in evidence.header.quantities if one.unit == unit]
    series, about = [], []
    for quantity in found:
        t_s, value = evidence.series(quantity.name)
        if not len(t_s):
            continue
        words = _spot(evidence, quantity)
        series.append(Line(words, t_s, value, blind(evidence, quantity.source)))
        high, low = int(np.argmax(value)), int(np.argmin(value))
        about.append(
            f"{words}: highest {show_value(float(value[high]), unit)} at {at(t_s[high])}, "
            f"lowest {show_value(float(value[low]), unit)} at {at(t_s[low])}."
        )
    if not series:
        return None
    title, axis = _AXES[unit]
    names = {quantity.name: _spot(evidence, quantity) for quantity in found}
    levels = _levels(evidence, names, unit)
    off = power_off(evidence)
    about += [f"Limit: {level.words}." for level in levels]
    chart = Chart(name=f"s{number}-{unit.lower()}", title=title, about=" ".join(about))
    span_s = (0.0, evidence.ends_s)

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


def _levels(evidence: Evidence, names: Mapping[str, str], unit: str) -> list[Level]:
    found = {
        (str(need.rule), need.limit, names[need.quantity])
        for need in evidence.header.requirements
        if need.rule in ("at most", "at least") and need.unit == unit and need.quantity in names
        if need.limit is not None
    }
    return [
        Level(f"{words} {rule} {show_value(limit, unit)}", limit)
        for rule, limit, words in sorted(found, key=lambda one: (one[1] or 0.0, one[2]))
        if limit is not None
    ]


def _starts(evidence: Evidence, number: int) -> Drawing | None:
    ended = evidence.marks("start ended")
    if not ended:
        return None
    starts = []
    for mark in ended:
        took_s = mark.detail.get("took_s") if mark.detail.get("seen") else None
        starts.append(
            Dot(str(mark.detail.get("kind", "")), None if took_s is None else float(took_s))
        )
    times = [one.took_s for one in starts if one.took_s is not None]
    about = f"{len(starts)} starts, {len(starts) - len(times)} of them without a picture."
    if times:
        about += f" Quickest {show_duration(min(times))}, slowest {show_duration(max(times))}."
    limits = {
        float(need.params["start_limit_s"])
        for need in evidence.header.requirements
        if need.rule == "starts" and need.params.get("start_limit_s") is not None
    }
    limit_s = min(limits, default=None)
    chart = Chart(name=f"s{number}-starts", title="Seconds from power to picture", about=about)
    return _both(
        chart,
        lambda name, width: dots(
            name, chart.title, chart.about, starts, limit_s=limit_s, width=width
        ),
    )


def _speed(evidence: Evidence, number: int) -> Drawing | None:
    series, about = [], []
    for quantity in evidence.header.quantities:
        if quantity.unit != "B/s":
            continue
        t_s, value = evidence.series(quantity.name)
        if not len(t_s):
            continue
        words = quantity.source
        series.append(Line(words, t_s, value, blind(evidence, quantity.source)))
        middle, low = float(np.median(value)), float(np.min(value))
        about.append(
            f"{words}: median {show_value(middle, 'B/s')}, lowest {show_value(low, 'B/s')}."
        )
    if not series:
        return None
    chart = Chart(name=f"s{number}-speed", title="Speed of data", about=" ".join(about))
    off, span_s = power_off(evidence), (0.0, evidence.ends_s)
    return _both(
        chart,
        lambda name, width: speeds(
            name, chart.title, chart.about, series, span_s=span_s, off=off, width=width
        ),
    )


def _states(evidence: Evidence, number: int) -> Drawing | None:
    rows = [
        Row(words, _pieces(evidence, source))
        for source, words in (("capture", "picture"), ("stick", "stick"), ("link", "link"))
        if evidence.states(source)
    ]
    if not rows:
        return None
    about = " ".join(_row_words(row) for row in rows)
    chart = Chart(name=f"s{number}-states", title="What the bench saw", about=about)
    span_s = (0.0, evidence.ends_s)
    names = [str(one.get("name", "")) for one in evidence.header.script.get("stretches", [])]
    parts = [(name, *window) for name in names for window in evidence.windows(name)]
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


def _pieces(evidence: Evidence, source: str) -> list[Piece]:
    """Cut a source's states by the power: without power nothing that is seen means anything."""
    off = power_off(evidence)
    pieces: list[Piece] = [Piece(begin_s, end_s, "off") for begin_s, end_s in off]
    fresh = True
    edges = sorted({edge for span in off for edge in span})
    for state, end_s in spans_of(evidence.states(source), evidence.ends_s):
        inner = [state.t_s, *(edge for edge in edges if state.t_s < edge < end_s), end_s]
        for from_s, to_s in itertools.pairwise(inner):
            middle_s = (from_s + to_s) / 2
            if _within(middle_s, off):
                fresh = True
                continue
            fresh = fresh and state.state not in QUIET
            starting = fresh and state.state != "blind" and bool(off)
            pieces.append(_named(from_s, to_s, "starting" if starting else state.state))
    return sorted(pieces, key=lambda piece: piece.from_s)


def _named(from_s: float, to_s: float, state: str) -> Piece:
    words = "" if state in QUIET else f"{state}, {show_duration(to_s - from_s)}"
    return Piece(from_s, to_s, state, words)


def _within(t_s: float, spans: Sequence[tuple[float, float]]) -> bool:
    return any(begin_s <= t_s < end_s for begin_s, end_s in spans)
