"""Counts of a few named things: one bar each, from a common line, with the count at its end."""

from collections.abc import Sequence
from dataclasses import dataclass

from soak.charts.palette import INK, LINE_COLOURS, PAPER, RULE
from soak.charts.svg import element, figure, label, text_width
from soak.charts.words import shortened

ROW, BAR = 22.0, 12.0
_MARGIN, _LEAST = 12.0, 60.0


@dataclass(frozen=True, slots=True)
class Bar:
    """One named count; `note` stands behind it."""

    words: str
    count: int
    note: str = ""


def bars(name: str, title: str, about: str, rows: Sequence[Bar], *, width: int = 720) -> str:
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
    shown = [_shown(row) for row in rows]
    left = max(text_width(shortened(row.words, 24)) for row in rows) + 2 * _MARGIN
    if _room(width, left, shown) < _LEAST:  # the notes stand in the description too
        shown = [str(row.count) for row in rows]
    room = _room(width, left, shown)
    most = max([*(row.count for row in rows), 1])
    total = ROW * len(rows) + 2 * _MARGIN
    drawn = []
    for at, (row, words) in enumerate(zip(rows, shown, strict=True)):
        middle = _MARGIN + ROW * (at + 0.5)
        end = left + room * row.count / most
        drawn.append(label(left - _MARGIN, middle + 4, shortened(row.words, 24), anchor="end"))
        if row.count:
            size = {"x": left, "y": middle - BAR / 2, "width": end - left, "height": BAR}
            drawn.append(element("rect", **size, fill=LINE_COLOURS[0]))
        drawn.append(label(end + _MARGIN / 2, middle + 4, words, fill=INK))
    line = f"M{left:.1f} {_MARGIN:.1f}V{total - _MARGIN:.1f}"
    return figure(
        name,
        title,
        about,
        width,
        total,
        element("rect", x=0, y=0, width=width, height=float(total), fill=PAPER),
        element("path", d=line, stroke=RULE, stroke_width=1.5),
        *drawn,
    )


def _shown(row: Bar) -> str:
    return f"{row.count}, {shortened(row.note, 32)}" if row.note else str(row.count)


def _room(width: float, left: float, shown: Sequence[str]) -> float:
    """Return how long the longest bar may be, px."""
    return max(1.0, width - left - max(map(text_width, shown)) - 2 * _MARGIN)
