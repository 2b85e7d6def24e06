"""Counts of a few named things: one bar each, from a common line, with the count at its end."""

from collections.abc import Sequence
from dataclasses import dataclass

from soak.charts.palette import INK, LINE_COLOURS, PAPER, RULE
from soak.charts.svg import element, figure, label, text_width
from soak.charts.words import Say, shortened
from soak.words import Said, joined

ROW = 22.0
BAR = 12.0
_MARGIN = 12.0
_LEAST = 60.0


@dataclass(frozen=True, slots=True)
class Bar:
    """One named count; `note` stands behind it."""

    words: Said
    count: int
    note: Said = ""


def bars(
    name: str, title: Said, about: Said, rows: Sequence[Bar], *, say: Say, width: int = 720
) -> str:
    """Draw one bar a row; a count of none is a line, so that it differs from nothing drawn.

    Parameters
    ----------
    name : str
        Unique on the page.

    Returns
    -------
    str
        The `<svg>`.
    """
    names = [shortened(say(row.words), 24) for row in rows]
    shown = [shortened(say(joined(", ", [row.count, row.note])), 40) for row in rows]
    left = max(map(text_width, names)) + 2 * _MARGIN
    if _room(width, left, shown) < _LEAST:  # the notes stand in the description too
        shown = [str(row.count) for row in rows]
    room = _room(width, left, shown)
    most = max([*(row.count for row in rows), 1])
    total = ROW * len(rows) + 2 * _MARGIN
    drawn = []
    for at, (row, named, words) in enumerate(zip(rows, names, shown, strict=True)):
        middle = _MARGIN + ROW * (at + 0.5)
        end = left + room * row.count / most
        drawn.append(label(left - _MARGIN, middle + 4, named, anchor="end"))
        if row.count:
            size = {"x": left, "y": middle - BAR / 2, "width": end - left, "height": BAR}
            drawn.append(element("rect", **size, fill=LINE_COLOURS[0]))
        drawn.append(label(end + _MARGIN / 2, middle + 4, words, fill=INK))
    line = f"M{left:.1f} {_MARGIN:.1f}V{total - _MARGIN:.1f}"
    return figure(
        name,
        say(title),
        say(about),
        width,
        total,
        element("rect", x=0, y=0, width=width, height=float(total), fill=PAPER),
        element("path", d=line, stroke=RULE, stroke_width=1.5),
        *drawn,
    )


def _room(width: float, left: float, shown: Sequence[str]) -> float:
    """Return how long the longest bar may be, px."""
    return max(1.0, width - left - max(map(text_width, shown)) - 2 * _MARGIN)
