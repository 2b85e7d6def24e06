"""Lines over time: temperatures, currents, speeds, with limits, holes and power-off shading."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soak.charts.axes import Plot, frame, left_margin, time_axis, time_ticks, value_ticks
from soak.charts.legend import ROW, Entry, draw_legend, rows_of
from soak.charts.palette import ACCENT, LINE_COLOURS, LINE_DASHES, PAPER, SHADE
from soak.charts.svg import element, figure, label, path, text_width
from soak.charts.thinning import outside, pieces, thin, usual_gap_s
from soak.charts.words import Say, shortened
from soak.derive.spans import Span, merged
from soak.evidence import Floats
from soak.words import Said, msg


@dataclass(frozen=True, slots=True, eq=False)
class Line:
    """One series.

    Attributes
    ----------
    words : str or Message
        Its name in the legend.
    t_s, value : ndarray, shape (n,)
        Times in s, rising, and values in the unit of the axis.
    holes : sequence of (float, float)
        Spans in s in which the bench could not see; nothing is drawn in or across them.
    """

    words: Said
    t_s: Floats
    value: Floats
    holes: Sequence[Span] = ()


@dataclass(frozen=True, slots=True)
class Level:
    """A limit: a labelled level across the chart, in the unit of the axis."""

    words: Said
    value: float


def lines(
    name: str,
    title: Said,
    about: Said,
    series: Sequence[Line],
    *,
    say: Say,
    axis: Said,
    span_s: Span,
    limits: Sequence[Level] = (),
    off: Sequence[Span] = (),
    width: int = 720,
    least: float | None = None,
) -> str:
    """Draw series over time.

    Parameters
    ----------
    name : str
        Unique on the page.
    axis : str or Message
        Quantity and measurement unit, `"temperature, °C"`.
    span_s : (float, float)
        Begin and end of the time shown, s.
    off : sequence of (float, float)
        Spans in s in which the unit's power was off; shaded.
    least : float or None
        A value the axis must reach down to, 0 for speeds.

    Returns
    -------
    str
        The `<svg>`.
    """
    shown = [_drawable(line, int((width - 40) / 7.5), say) for line in series]
    up = value_ticks(*_range(shown, limits, least), say, most=5 if width < 500 else 6)
    across, unit = time_ticks(*span_s, most=max(3, width // 90))
    entries = [_entry(one.words, at) for at, one in enumerate(shown)]
    if off:
        entries.append(Entry(say(msg("power off")), _shade_sample))
    left = left_margin(up)
    legend_rows = len(rows_of(entries, width - 4))
    height = (190 if width < 500 else 230) + 0.0
    plot = Plot(left, 34, width - left - 14, height, *span_s, up[0].at, up[-1].at)
    total = plot.bottom + 46 + legend_rows * ROW
    return figure(
        name,
        say(title),
        say(about),
        width,
        total,
        element("rect", x=0, y=0, width=width, height=float(total), fill=PAPER),
        _shading(plot, off),
        frame(plot, across, up, across_title=say(time_axis(unit)), up_title=say(axis)),
        "".join(_line(plot, one, at) for at, one in enumerate(shown)),
        _levels(plot, limits, say),
        _letters(plot, shown),
        draw_legend(entries, 2, plot.bottom + 44, width - 4),
    )


def speeds(
    name: str,
    title: Said,
    about: Said,
    series: Sequence[Line],
    *,
    say: Say,
    span_s: Span,
    off: Sequence[Span] = (),
    width: int = 720,
) -> str:
    """Draw transfer speeds, given in B/s, over time in MB/s (10^6 B/s) from zero up."""
    scaled = [Line(line.words, line.t_s, line.value / 1e6, line.holes) for line in series]
    return lines(
        name,
        title,
        about,
        scaled,
        say=say,
        axis=msg("speed, MB/s"),
        span_s=span_s,
        off=off,
        width=width,
        least=0.0,
    )


def _drawable(one: Line, longest: int, say: Say) -> Line:
    """Return a line as it is drawn: no point within a hole, its name said."""
    good = np.isfinite(one.t_s) & np.isfinite(one.value) & outside(one.t_s, one.holes)
    return Line(shortened(say(one.words), longest), one.t_s[good], one.value[good], one.holes)


def _range(
    series: Sequence[Line], limits: Sequence[Level], least: float | None
) -> tuple[float, float]:
    values = [
        float(end)
        for line in series
        if len(line.value)
        for end in (line.value.min(), line.value.max())
    ]
    values += [level.value for level in limits if math.isfinite(level.value)]
    values += [] if least is None else [least]
    return (min(values), max(values)) if values else (0.0, 1.0)


def _line(plot: Plot, one: Line, at: int) -> str:
    """Draw a series as one path of as many pieces as it has; a lone point is a dot."""
    span_s = plot.to_x - plot.from_x
    # A gap narrower than two columns of pixels cannot be seen; cutting there would only cost bytes.
    gap_s = usual_gap_s(one.t_s, 2 * span_s / plot.width)
    colour = LINE_COLOURS[at % len(LINE_COLOURS)]
    dash = LINE_DASHES[at % len(LINE_DASHES)]
    drawn = []
    dots = []
    for begin, end in pieces(one.t_s, gap_s, merged(one.holes)):
        t_s = one.t_s[begin:end]
        value = one.value[begin:end]
        columns = max(2, round(0.6 * plot.width * (t_s[-1] - t_s[0]) / span_s)) if span_s > 0 else 2
        kept = thin(t_s, value, columns, from_s=float(t_s[0]), to_s=float(t_s[-1]))
        points = [(plot.x(t_s[index]), plot.y(value[index])) for index in kept]
        if len(points) > 1:
            drawn.append(path(points))
        else:
            dots.append(element("circle", cx=points[0][0], cy=points[0][1], r=1.4, fill=colour))
    d = "".join(drawn)
    stroke = element(
        "path", d=d, fill="none", stroke=colour, stroke_width=1.6, stroke_dasharray=dash
    )
    return element("g", (stroke if d else "") + "".join(dots), stroke_linejoin="round")


def _entry(words: Said, at: int) -> Entry:
    colour = LINE_COLOURS[at % len(LINE_COLOURS)]
    dash = LINE_DASHES[at % len(LINE_DASHES)]

    def sample(x: float, y: float) -> str:
        d = f"M{x:.1f} {y:.1f}h22"
        return element("path", d=d, stroke=colour, stroke_width=2, stroke_dasharray=dash)

    return Entry(f"{letter(at)} {words}", sample)


def letter(at: int) -> str:
    """Return the letter of the line drawn at position `at` (from 0), as its legend has it."""
    return "abcdefghijklmnopqrstuvwxyz"[at % 26]


def _letters(plot: Plot, series: Sequence[Line]) -> str:
    """Name each line by its letter where it runs: noise makes dashes hard to tell in grey."""
    parts = []
    for at, line in enumerate(series):
        if len(line.t_s) == 0:
            continue
        span_s = plot.to_x - plot.from_x
        at_s = min(plot.from_x + (0.4 + 0.05 * at) * span_s, float(line.t_s[-1]))
        index = int(np.argmin(np.abs(line.t_s - at_s)))
        near = line.value[np.abs(line.t_s - line.t_s[index]) <= 0.015 * span_s]
        y = max(plot.y(float(near.max())) - 6, plot.top + 8)
        colour = LINE_COLOURS[at % len(LINE_COLOURS)]
        parts.append(
            label(plot.x(line.t_s[index]), y, letter(at), fill=colour, halo=True, bold=True)
        )
    return "".join(parts)


def _shade_sample(x: float, y: float) -> str:
    return element("rect", x=x, y=y - 6, width=22, height=12, fill=SHADE, stroke="#b9b1a4")


def _shading(plot: Plot, off: Sequence[Span]) -> str:
    """Shade the off spans; a comb finer than a pixel becomes one path of hair-wide strokes."""
    d = []
    for begin_s, end_s in merged(off):
        x = plot.x(begin_s)
        to = plot.x(end_s)
        if to > plot.left and x < plot.right:
            d.append(f"M{x:.1f} {plot.top:.1f}H{max(to, x + 0.3):.1f}V{plot.bottom:.1f}H{x:.1f}z")
    return element("path", d="".join(d), fill=SHADE) if d else ""


def _levels(plot: Plot, limits: Sequence[Level], say: Say) -> str:
    """Draw limits with their labels at the right, pushed apart where they would touch."""
    parts: list[str] = []
    taken: list[float] = []
    for level in sorted(limits, key=lambda one: -one.value):
        y = plot.y(level.value)
        line = f"M{plot.left:.1f} {y:.1f}H{plot.right:.1f}"
        parts.append(
            element("path", d=line, stroke=ACCENT, stroke_width=1.4, stroke_dasharray="1 3 8 3")
        )
        words = shortened(say(level.words), 60)
        while text_width(words) > plot.width - 8 and len(words) > 8:
            words = shortened(words, len(words) - 4)
        at = y - 5
        while any(abs(at - other) < 14 for other in taken):
            at += 14
        taken.append(at)
        parts.append(label(plot.right - 4, at, words, anchor="end", fill=ACCENT, halo=True))
    return "".join(parts)
