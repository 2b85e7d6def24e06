"""Start times in their order: one mark a start, another shape for one that failed."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soak.charts.axes import Plot, Tick, frame, left_margin, value_ticks
from soak.charts.legend import ROW, Entry, draw_legend, rows_of
from soak.charts.palette import ACCENT, INK, LINE_COLOURS, PAPER
from soak.charts.svg import element, figure, label, text_width
from soak.charts.words import Say, shortened
from soak.words import Message, Said, Stated, counted, joined, msg

MOST = 3000
"""Starts drawn one by one; of more, each group keeps its quickest and its slowest."""
_ORDER = msg("starts in their order")
_SECONDS = msg("seconds to the picture")


@dataclass(frozen=True, slots=True)
class Dot:
    """One start: what its kind is called, seconds to the picture (None: it failed)."""

    kind: Said
    took_s: float | None


def dots(
    name: str,
    title: Said,
    about: Said,
    starts: Sequence[Dot],
    *,
    say: Say,
    limit_s: float | None = None,
    width: int = 720,
) -> str:
    """Draw start times per start, in order, with the limit and the failed ones labelled.

    Parameters
    ----------
    name : str
        Unique on the page.
    limit_s : float or None
        Longest time allowed for a start, s.

    Returns
    -------
    str
        The `<svg>`.
    """
    kinds = list(dict.fromkeys(dot.kind for dot in starts))
    times = [dot.took_s for dot in starts if dot.took_s is not None and math.isfinite(dot.took_s)]
    top = max([*times, limit_s or 0.0, 1.0])
    up = value_ticks(0.0, top * 1.12, say, most=5)
    failed = [at for at, dot in enumerate(starts, start=1) if dot.took_s is None]
    entries = [_entry(shortened(say(kind), 30), at) for at, kind in enumerate(kinds)]
    if failed:
        entries.append(Entry(say(msg("did not start")), lambda x, y: _cross(x + 11, y)))
    left = left_margin(up)
    head = 34.0 + (16 if failed else 0)
    count = max(len(starts), 1)
    height = 150.0 if width < 500 else 180.0
    plot = Plot(
        left,
        head,
        width - left - 14,
        height=height,
        from_x=0.5,
        to_x=count + 0.5,
        from_y=0.0,
        to_y=up[-1].at,
    )
    total = plot.bottom + 46 + ROW * len(rows_of(entries, width - 4))
    return figure(
        name,
        say(title),
        say(about),
        width,
        total,
        element("rect", x=0, y=0, width=width, height=float(total), fill=PAPER),
        frame(plot, _orders(count), up, across_title=say(_ORDER), up_title=say(_SECONDS)),
        _limit(plot, limit_s, say),
        *(_mark(plot, at, starts[at - 1], kinds) for at in _drawn(starts)),
        _failures(plot, failed, say),
        draw_legend(entries, 2, plot.bottom + 44, width - 4),
    )


def _orders(count: int) -> list[Tick]:
    """Label the first start and round ones after it."""
    ticks = [tick.at for tick in value_ticks(0, count, str, most=6) if tick.at == int(tick.at)]
    rest = [Tick(at, f"{at:.0f}") for at in ticks if 1 < at <= count]
    return [Tick(1, "1"), *rest]


def _drawn(starts: Sequence[Dot]) -> list[int]:
    """Return the numbers (from 1) of the starts to draw: all failed, and all or the extremes."""
    if len(starts) <= MOST:
        return list(range(1, len(starts) + 1))
    kept = {at for at, dot in enumerate(starts, start=1) if dot.took_s is None}
    times = np.array([np.nan if dot.took_s is None else dot.took_s for dot in starts])
    for part in np.array_split(np.arange(len(starts)), MOST // 3):
        seen = part[np.isfinite(times[part])]
        if len(seen):
            kept |= {int(seen[np.argmin(times[seen])]) + 1, int(seen[np.argmax(times[seen])]) + 1}
    return sorted(kept)


def _mark(plot: Plot, at: int, start: Dot, kinds: Sequence[Said]) -> str:
    if start.took_s is None:
        return _cross(plot.x(at), plot.top + 6)
    return _shape(kinds.index(start.kind), plot.x(at), plot.y(start.took_s))


def _shape(index: int, x: float, y: float) -> str:
    colour = LINE_COLOURS[index % len(LINE_COLOURS)]
    match index % 3:
        case 0:
            return element("circle", cx=x, cy=y, r=2.6, fill=colour)
        case 1:
            d = f"M{x:.1f} {y - 4.5:.1f}l4.5 4.5l-4.5 4.5l-4.5-4.5z"
        case _:
            d = f"M{x - 3.5:.1f} {y - 3.5:.1f}h7v7h-7z"
    return element("path", d=d, fill=PAPER, stroke=colour, stroke_width=1.5)


def _cross(x: float, y: float) -> str:
    d = f"M{x - 5:.1f} {y - 5:.1f}l10 10m0-10l-10 10"
    return element("path", d=d, stroke=ACCENT, stroke_width=2.4, fill="none")


def _entry(kind: str, index: int) -> Entry:
    return Entry(kind, lambda x, y: _shape(index, x + 11, y))


def _limit(plot: Plot, limit_s: float | None, say: Say) -> str:
    if limit_s is None:
        return ""
    y = plot.y(limit_s)
    line = f"M{plot.left:.1f} {y:.1f}H{plot.right:.1f}"
    shown = Stated(round(limit_s) if limit_s >= 10 else limit_s, "s")
    words = say(msg("limit {value}", value=shown))
    return element(
        "path", d=line, stroke=ACCENT, stroke_width=1.4, stroke_dasharray="1 3 8 3"
    ) + label(plot.right - 4, y - 5, words, anchor="end", fill=ACCENT, halo=True)


def _failures(plot: Plot, failed: Sequence[int], say: Say) -> str:
    """Name the failed starts above the plot, as many as there is room for."""
    if not failed:
        return ""
    shown = 0
    while shown < len(failed) and text_width(say(_failed(failed, shown + 1))) <= plot.right - 4:
        shown += 1
    words = say(_failed(failed, shown))
    return label(plot.right, plot.top - 8, words, anchor="end", fill=INK, halo=True)


def _failed(failed: Sequence[int], shown: int) -> Message:
    """Name the first failed starts, and say how many more there are."""
    numbers = joined(", ", failed[:shown])
    return counted(
        len(failed) - shown,
        "did not start: no. {numbers} and 1 more",
        "did not start: no. {numbers} and {count} more",
        none=msg("did not start: no. {numbers}", numbers=numbers),
        numbers=numbers,
    )
