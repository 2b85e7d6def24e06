"""What each source was seen to be, over time: a band a source, hatching and words, no colour."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from soak.charts.axes import Plot, bottom_axis, clock_text, time_axis, time_ticks
from soak.charts.legend import ROW, Entry, draw_legend, rows_of
from soak.charts.palette import ACCENT, INK, PAPER, RULE, SOFT_INK
from soak.charts.svg import element, figure, label, text_width
from soak.charts.words import Say, shortened
from soak.derive.spans import Span
from soak.words import Said, counted, joined

_TALL = 22.0
_LANES = 4
_NARROWEST = 2.4
"""Width in px that even the shortest break gets, so that a night cannot swallow it."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A source was in one state from `from_s` to `to_s`; `words` label it if it is to be named."""

    from_s: float
    to_s: float
    state: str
    words: Said = ""


@dataclass(frozen=True, slots=True)
class Row:
    """One source and its pieces in order of time."""

    words: Said
    pieces: Sequence[Piece]


# Background, and a stroke pattern in a tile of 6 px: each readable without the other's colour.
_LOOKS: Mapping[str, tuple[str, str]] = {
    "picture": ("#cfd8e0", ""),
    "seen": ("#cfd8e0", ""),
    "on": ("#cfd8e0", ""),
    "off": (PAPER, "M0 5.5h6"),
    "starting": (PAPER, "M1 6v-6M4 6v-6"),
    "black": (INK, ""),
    "no signal": (PAPER, "M0 0l6 6M6 0l-6 6"),
    "gone": (PAPER, "M0 0l6 6M6 0l-6 6"),
    "frozen": ("#ddd5e2", "M0 1.5h6M0 4.5h6"),
    "stalled": ("#e5dfcf", "M-1 1l2-2M0 6l6-6M5 7l2-2"),
    "other size": ("#e5dfcf", "M0 0h6v6h-6z"),
    "blind": (PAPER, "M2 3h2"),
    "protected output": (PAPER, "M1 1h4v4h-4z"),
}
_OTHER = ("#e5dfcf", "M3 1v4M1 3h4")
QUIET = frozenset({"picture", "seen", "on", "off", "starting"})
"""States that are as they should be; they lie under the others."""


def band(
    name: str,
    title: Said,
    about: Said,
    rows: Sequence[Row],
    *,
    say: Say,
    span_s: Span,
    stretches: Sequence[tuple[Said, float, float]] = (),
    called: Callable[[str], Said] = str,
    width: int = 720,
) -> str:
    """Draw the state of each source over time.

    Parameters
    ----------
    name : str
        Unique on the page.
    span_s : (float, float)
        Begin and end of the time shown, s.
    stretches : sequence of (str, float, float)
        Name, begin and end in s of the script's parts, drawn along the top.
    called : callable
        Says what a state is called.

    Returns
    -------
    str
        The `<svg>`.
    """
    plot = Plot(6, 26 if stretches else 4, width - 20, 0, *span_s)
    parts = [_stretches(plot, stretches, say)]
    y = plot.top
    for row in rows:
        parts.append(label(plot.left, y + 13, shortened(say(row.words), 60), fill=SOFT_INK))
        parts.append(_row(plot, row, y + 18, name))
        lanes, drawn = _callouts(plot, row, y + 18 + _TALL, say)
        parts.append(drawn)
        y += 18 + _TALL + 8 + lanes * 15
    across, unit = time_ticks(*span_s, most=max(3, width // 90))
    foot = Plot(plot.left, y, plot.width, 0, *span_s)
    parts.append(bottom_axis(foot, across, say(time_axis(unit))))
    states = list(dict.fromkeys(piece.state for row in rows for piece in row.pieces))
    entries = [Entry(shortened(say(called(state)), 24), _sampler(state, name)) for state in states]
    total = y + 46 + ROW * len(rows_of(entries, width - 4))
    return figure(
        name,
        say(title),
        say(about),
        width,
        total,
        _patterns(name, states),
        element("rect", x=0, y=0, width=width, height=float(total), fill=PAPER),
        *parts,
        draw_legend(entries, 2, y + 44, width - 4),
    )


def _look_id(name: str, state: str) -> str:
    known = list(_LOOKS)
    return f"{name}-p{known.index(state) if state in _LOOKS else 99}"


def _patterns(name: str, states: Sequence[str]) -> str:
    tiles = {}
    for state in states:
        ground, strokes = _LOOKS.get(state, _OTHER)
        ink = "#4a4540" if state in QUIET else INK
        tiles[_look_id(name, state)] = element(
            "pattern",
            element("rect", width=6, height=6, fill=ground),
            element("path", d=strokes, stroke=ink, stroke_width=0.9, fill="none")
            if strokes
            else "",
            id=_look_id(name, state),
            width=6,
            height=6,
            patternUnits="userSpaceOnUse",
        )
    return element("defs", *tiles.values())


def _sampler(state: str, name: str) -> "_Sample":
    return _Sample(f"url(#{_look_id(name, state)})")


@dataclass(frozen=True, slots=True)
class _Sample:
    """Draws the legend's sample of one state."""

    fill: str

    def __call__(self, x: float, y: float) -> str:
        return element(
            "rect", x=x, y=y - 6, width=22, height=12, fill=self.fill, stroke=INK, stroke_width=0.7
        )


def _row(plot: Plot, row: Row, top: float, name: str) -> str:
    """Draw quiet states first, then what matters over them, each at least a visible sliver."""
    drawn: dict[str, list[str]] = {}
    loud = sorted(row.pieces, key=lambda piece: piece.state not in QUIET)
    for piece in loud:
        least = 0.3 if piece.state in QUIET else _NARROWEST
        x = plot.x(piece.from_s)
        wide = max(plot.x(piece.to_s) - x, least)
        x = min(x, plot.right - wide)
        paths = drawn.setdefault(piece.state, [])
        d = f"M{x:.1f} {top:.1f}h{wide:.1f}v{_TALL:.0f}h-{wide:.1f}z"
        if not paths or paths[-1] != d:
            paths.append(d)
    shapes = [
        element("path", d="".join(paths), fill=f"url(#{_look_id(name, state)})")
        for state, paths in drawn.items()
    ]
    outline = element(
        "rect",
        x=plot.left,
        y=top,
        width=plot.width,
        height=_TALL,
        fill="none",
        stroke=INK,
        stroke_width=0.8,
    )
    return "".join(shapes) + outline


def _callouts(plot: Plot, row: Row, top: float, say: Say) -> tuple[int, str]:
    """Write the words of named pieces below the row; return lanes used, and the drawing."""
    named = [piece for piece in row.pieces if piece.words]
    ends = [plot.left] * _LANES
    leaders = []
    texts = []
    used = 0
    left_out = 0
    for piece in named:
        words = shortened(
            say(joined(" ", [clock_text(piece.from_s, seconds=True), piece.words])), 60
        )
        room = text_width(words) + 10
        x = plot.x(piece.from_s)
        at = min(x, plot.right - room + 6)
        lane = next((lane for lane in range(_LANES) if ends[lane] <= at), None)
        if lane is None:
            left_out += 1
            continue
        ends[lane] = at + room
        used = max(used, lane + 1)
        y = top + 15 + lane * 15
        leader = f"M{x:.1f} {top:.1f}V{y - 9:.1f}"
        leaders.append(element("path", d=leader, stroke=ACCENT, stroke_width=1))
        texts.append(label(at, y, words, halo=True))
    if left_out:
        used += 1
        more = counted(
            left_out,
            "and 1 more, too close to be named here",
            "and {count} more, too close to be named here",
        )
        texts.append(label(plot.left, top + used * 15, say(more), fill=SOFT_INK))
    return used, "".join(leaders + texts)


def _stretches(plot: Plot, stretches: Sequence[tuple[Said, float, float]], say: Say) -> str:
    parts = []
    for words, from_s, to_s in stretches:
        x = plot.x(from_s)
        to = plot.x(to_s)
        parts.append(
            element("path", d=f"M{x:.1f} 20v-4H{max(to, x + 1):.1f}v4", stroke=RULE, fill="none")
        )
        room = int((to - x) / 7)
        if room >= 4:
            parts.append(label(x + 2, 12, shortened(say(words), room), fill=SOFT_INK))
    return "".join(parts)
