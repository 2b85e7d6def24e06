"""Scales, readable ticks, and the frame that every chart over time or order stands in."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from soak.charts.palette import INK, RULE, SOFT_INK
from soak.charts.svg import element, label, text_width
from soak.charts.words import Say
from soak.words import Message, Number, msg

_STEPS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800)
_STEPS_H = (1, 2, 3, 4, 6, 12, 24, 48, 72, 168)


@dataclass(frozen=True, slots=True)
class Tick:
    """One tick: where it stands in data and what is written there."""

    at: float
    words: str


@dataclass(frozen=True, slots=True)
class Plot:
    """The plotting area in px and the data range it shows."""

    left: float
    top: float
    width: float
    height: float
    from_x: float
    to_x: float
    from_y: float = 0.0
    to_y: float = 1.0

    @property
    def right(self) -> float:
        """Right edge in px."""
        return self.left + self.width

    @property
    def bottom(self) -> float:
        """Lower edge in px."""
        return self.top + self.height

    def x(self, value: float) -> float:
        """Return the px of a data value along the horizontal axis, kept inside the area."""
        share = (value - self.from_x) / ((self.to_x - self.from_x) or 1.0)
        return self.left + self.width * min(max(share, 0.0), 1.0)

    def y(self, value: float) -> float:
        """Return the px of a data value along the vertical axis."""
        share = (value - self.from_y) / ((self.to_y - self.from_y) or 1.0)
        return self.bottom - self.height * share


def clock_text(t_s: float, seconds: bool = False) -> str:
    """Write a time since the beginning: `"3:05"` in h:min, `"3:05:09"` with seconds."""
    whole = round(t_s) if seconds else round(t_s / 60) * 60
    hours, rest = divmod(whole, 3600)
    minutes, left_s = divmod(rest, 60)
    return f"{hours}:{minutes:02d}:{left_s:02d}" if seconds else f"{hours}:{minutes:02d}"


def time_ticks(from_s: float, to_s: float, most: int) -> tuple[list[Tick], str]:
    """Choose at most about `most` ticks over a span of time in s.

    Returns
    -------
    ticks, unit : list of Tick, str
        Whole steps, labelled in h:min, or in min:s where the span is under 10 min.
    """
    span_s = max(to_s - from_s, 1e-9)
    steps = [float(step) for step in _STEPS_S] + [3600.0 * step for step in _STEPS_H]
    step_s = next((step for step in steps if span_s / step <= most), span_s / most)
    short = span_s < 600
    first = math.ceil(from_s / step_s - 1e-9)
    ticks = []
    for index in range(first, math.floor(to_s / step_s + 1e-9) + 1):
        at_s = index * step_s
        words = f"{int(at_s // 60)}:{int(at_s % 60):02d}" if short else clock_text(at_s)
        ticks.append(Tick(at_s, words))
    return ticks, "min:s" if short else "h:min"


def time_axis(unit: str) -> Message:
    """Say what an axis of time shows, in the unit of its ticks."""
    return msg("time since the soak began, {unit}", unit=unit)


def value_ticks(low: float, high: float, say: Say, most: int = 6) -> list[Tick]:
    """Choose round values (1, 2 or 5 times a power of ten) that cover `low` to `high`."""
    span = high - low
    if not math.isfinite(span) or span <= 0:
        span = abs(high) or 1.0
        low = low - span / 2
        high = high + span / 2
    power = 10.0 ** math.floor(math.log10(span / most))
    step = next(power * by for by in (1, 2, 5, 10, 20) if span / (power * by) <= most)
    first = math.floor(low / step + 1e-9)
    last = math.ceil(high / step - 1e-9)
    decimals = max(0, -math.floor(math.log10(step) + 1e-9))
    values = [index * step + 0.0 for index in range(first, last + 1)]
    return [Tick(value, say(Number(value, f".{decimals}f"))) for value in values]


def left_margin(ticks: Sequence[Tick]) -> float:
    """Return the room in px that the labels of a vertical axis need."""
    return max((text_width(tick.words) for tick in ticks), default=0.0) + 10


def frame(
    plot: Plot, across: Sequence[Tick], up: Sequence[Tick], across_title: str, up_title: str
) -> str:
    """Draw grid, ticks and titles of both axes; the vertical title stands above, lying flat."""
    parts = [label(2, plot.top - 10, up_title, fill=SOFT_INK)]
    for tick in up:
        y = plot.y(tick.at)
        parts.append(element("path", d=f"M{plot.left:.1f} {y:.1f}H{plot.right:.1f}", stroke=RULE))
        parts.append(label(plot.left - 6, y + 4, tick.words, anchor="end", fill=SOFT_INK))
    parts.append(bottom_axis(plot, across, across_title))
    return "".join(parts)


def bottom_axis(plot: Plot, ticks: Sequence[Tick], title: str) -> str:
    """Draw the horizontal axis with its labels, and its title below."""
    line = f"M{plot.left:.1f} {plot.bottom:.1f}H{plot.right:.1f}"
    parts = [element("path", d=line, stroke=INK)]
    for tick in ticks:
        x = plot.x(tick.at)
        parts.append(element("path", d=f"M{x:.1f} {plot.bottom:.1f}v5", stroke=INK))
        half = text_width(tick.words) / 2
        at = min(max(x, half), plot.right + 12 - half)
        parts.append(label(at, plot.bottom + 18, tick.words, anchor="middle", fill=SOFT_INK))
    parts.append(label(plot.right, plot.bottom + 35, title, anchor="end", fill=SOFT_INK))
    return "".join(parts)
