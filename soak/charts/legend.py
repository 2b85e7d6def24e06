"""Legends: samples beside their names, wrapped to the chart's width."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from soak.charts.svg import label, text_width

ROW = 18.0
"""Height of one row in px."""
_SAMPLE = 26.0


@dataclass(frozen=True, slots=True)
class Entry:
    """A name, and what draws its sample from (x, y) in px, 22 wide, y its middle."""

    words: str
    sample: Callable[[float, float], str]


def rows_of(entries: Sequence[Entry], width: float) -> list[list[Entry]]:
    """Wrap entries into rows of at most `width` px."""
    rows: list[list[Entry]] = [[]]
    used = 0.0
    for entry in entries:
        needs = _SAMPLE + text_width(entry.words) + 14
        if rows[-1] and used + needs > width:
            rows.append([])
            used = 0.0
        rows[-1].append(entry)
        used += needs
    return [row for row in rows if row]


def draw_legend(entries: Sequence[Entry], left: float, top: float, width: float) -> str:
    """Draw the legend with its upper edge at `top` px; `ROW` px a row of `rows_of`."""
    parts = []
    for at, row in enumerate(rows_of(entries, width)):
        x = left
        y = top + at * ROW + ROW / 2
        for entry in row:
            parts.append(entry.sample(x, y))
            parts.append(label(x + _SAMPLE, y + 4, entry.words))
            x += _SAMPLE + text_width(entry.words) + 14
    return "".join(parts)
