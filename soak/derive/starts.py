"""Starts of the unit: which there were, how long each took, which of them failed."""

import statistics
from collections.abc import Sequence
from dataclasses import dataclass, replace

from soak import states
from soak.derive.spans import Span, touching
from soak.marks import start_called
from soak.records import Json, Mark
from soak.words import NOTHING_SAID, Message, msg

_ORDINARY = ("first", "warm", "cold")


@dataclass(frozen=True, slots=True)
class Start:
    """One start of the unit.

    Attributes
    ----------
    kind : str
        `"first"`, `"warm"`, `"cold"`, `"quick"` (a short break), `"lowest voltage"` or `"highest
        voltage"` (at the limits of the supply).
    number : int
        As the check counted.
    t_on : float
        When the power came, s of soak time.
    ended_s : float or None
        When the watching ended; None if a crash cut it off.
    took_s : float or None
        From power to picture, s; None if no picture was seen.
    hole : Message
        Why it cannot be counted; empty if it can.
    stretch, check : str
        Where it was made.
    off_s : float or None
        How long the power was off before; None if not told.
    """

    kind: str
    number: int
    t_on: float
    ended_s: float | None
    took_s: float | None
    hole: Message
    stretch: str
    check: str
    off_s: float | None = None

    @property
    def called(self) -> str:
        """Return its name in words: `"warm start 3"`, `"start after short break 1"`."""
        return start_called(self.kind, self.number, self.check)

    def failure(self, limit_s: float) -> str:
        """Say how it failed: `"no picture"`, `"too slow"`; empty if it worked or cannot tell."""
        if self.hole:
            return ""
        if self.took_s is None:
            return "no picture"
        return "too slow" if self.took_s > limit_s else ""


def find_starts(
    marks: Sequence[Mark],
    windows: Sequence[Span],
    pictures: Sequence[float] | None,
    blind: Sequence[Span],
) -> list[Start]:
    """Return the starts in order of time.

    Parameters
    ----------
    marks : sequence of Mark
        All marks, in order of time.
    windows : sequence of (float, float)
        Spans with power.
    pictures : sequence of float or None
        When a picture came; None without a capture.
    blind : sequence of (float, float)
        When the bench could not see the unit start.
    """
    begun = [mark for mark in marks if mark.what == "start"]
    ended = [mark for mark in marks if mark.what == "start ended"]
    found = []
    for at, mark in enumerate(begun):
        until_s = begun[at + 1].t_s if at + 1 < len(begun) else float("inf")
        t_on, off_s = _power_of(mark.t_s, windows)
        end = next((end for end in ended if mark.t_s <= end.t_s <= until_s), None)
        start = Start(
            kind=str(mark.detail.get("kind", "warm")),
            number=int(mark.detail.get("number", at + 1)),
            t_on=t_on,
            ended_s=end.t_s if end else None,
            took_s=_took_s(end.detail) if end else _seen_after(t_on, off_s, pictures),
            hole=NOTHING_SAID,
            stretch=mark.stretch,
            check=mark.check,
            off_s=_number(mark.detail.get("off_s")),
        )
        hole = _why_not_counted(start, off_s, blind)
        if end is not None and end.detail.get("woken"):
            hole = msg("it came only when its button was pressed: did its power go at all?")
        if _still_alive(t_on, begun[at - 1].t_s if at else 0.0, marks):
            hole = msg("the unit was not seen to be off before this start")
        found.append(replace(start, hole=hole))
    return found


ENOUGH = 3
"""So many good starts of its own tell how long a unit's starts take. Our own choice."""


def with_late_cuts(
    found: Sequence[Start], windows: Sequence[Span], sheet: Json, blind: Sequence[Span]
) -> list[Start]:
    """Charge starts that were cut off later than any good one took: they had failed by then.

    Else whoever ends a soak as soon as a start is late would never see one fail. One that was cut
    off before that tells nothing and is not counted.

    Parameters
    ----------
    windows : sequence of (float, float)
        Spans with power.
    """
    good = [one.took_s for one in _ordinary(found) if one.took_s is not None]
    longest_s = max(good) if len(good) >= ENOUGH else states.usual_start_s(sheet)
    return [
        replace(one, hole=NOTHING_SAID) if _cut_late(one, windows, longest_s, blind) else one
        for one in found
    ]


def _cut_late(
    start: Start, windows: Sequence[Span], longest_s: float, blind: Sequence[Span]
) -> bool:
    if start.took_s is not None or start.ended_s is not None:
        return False
    _, off_s = _power_of(start.t_on, windows)
    return off_s - start.t_on > longest_s and touching(start.t_on, off_s, blind) is None


def _still_alive(t_on: float, since_s: float, marks: Sequence[Mark]) -> bool:
    """Tell whether the off before a start was not one: a welded relay starts nothing."""
    told = (m for m in marks if since_s <= m.t_s <= t_on and m.what == "off not proved")
    return next(told, None) is not None


def _power_of(t_s: float, windows: Sequence[Span]) -> Span:
    """Return on and off of the power that belongs to a start mark made up to 5 s beside it."""
    near = [window for window in windows if abs(window[0] - t_s) <= 5]
    around = [window for window in windows if window[0] <= t_s <= window[1]]
    if near:
        return min(near, key=lambda window: abs(window[0] - t_s))
    return (t_s, around[0][1]) if around else (t_s, t_s)


def _took_s(detail: Json) -> float | None:
    took_s = detail.get("took_s")
    return float(took_s) if detail.get("seen") and took_s is not None else None


def _number(told: object) -> float | None:
    return float(told) if isinstance(told, int | float) else None


def _seen_after(t_on: float, off_s: float, pictures: Sequence[float] | None) -> float | None:
    return next((t_s - t_on for t_s in pictures or () if t_on <= t_s <= off_s), None)


def _why_not_counted(start: Start, off_s: float, blind: Sequence[Span]) -> Message:
    """Say why a start shows nothing. A picture that was seen in time stays a good start."""
    if start.took_s is None and start.ended_s is None:
        return msg("the soak was cut off during this start")
    until_s = start.ended_s if start.ended_s is not None else off_s
    if touching(start.t_on, until_s, blind) is None:
        return NOTHING_SAID
    if start.took_s is not None:
        return NOTHING_SAID
    return msg("the bench was blind during this start")


def late_while_blind(start: Start, limit_s: float, blind: Sequence[Span]) -> bool:
    """Tell whether a start only looks slow because the bench was blind while it went on."""
    slow = start.took_s is not None and start.took_s > limit_s
    return slow and touching(start.t_on, start.t_on + (start.took_s or 0), blind) is not None


def usual_start_s(starts: Sequence[Start], sheet: Json, given_s: float | None = None) -> float:
    """Return the usual time from power to picture in s.

    The median of at least three seen starts; else what is given, the model sheet's, or 20 s.
    """
    seen = [start.took_s for start in _ordinary(starts) if start.took_s is not None]
    if len(seen) >= 3:
        return statistics.median(seen)
    return float(given_s or states.usual_start_s(sheet))


def _ordinary(starts: Sequence[Start]) -> list[Start]:
    """Return the starts after a real off at nominal voltage: those that show what is usual."""
    return [start for start in starts if start.kind in _ORDINARY]


def start_limit_s(
    starts: Sequence[Start], sheet: Json, limit_s: float | None = None, usual_s: float | None = None
) -> float:
    """Return the longest time in s that a good start takes.

    Where neither requirement nor model sheet gives it: twice the median of the attended starts
    (kind `first`, else the first three good ones) plus 10 s.
    """
    good = [start for start in _ordinary(starts) if start.took_s is not None]
    attended = [start for start in good if start.kind == "first"] or good[:3]
    times = [start.took_s for start in attended if start.took_s is not None]
    return states.start_limit_s(sheet, limit_s, statistics.median(times) if times else usual_s)
