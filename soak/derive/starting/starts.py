"""Starts of the unit: which there were, how long each took, which of them failed."""

import statistics
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from soak import states
from soak.derive.seeing.holes import Hole
from soak.derive.spans import Span, minus
from soak.frozen.sheet import ModelSheet
from soak.marks import OffNotProved, PowerChanged, StartBegun, StartEnded, facts_in, start_called
from soak.records import Mark
from soak.words import NOTHING_SAID, Amount, Message, msg

_ORDINARY = ("first", "warm", "cold")

LATE_ANSWER_S = 0.5
"""A switch that answers so much later than asked is said to, beside how long a start took. Our own
choice: relay boards and supplies on a serial line answer within a tenth of a second or two."""

FEWEST_OWN = 3
"""Fewer starts show nothing usual of a unit. Our own choice."""


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
        When the switch answered that the power is on, s of soak time.
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
    within_s : float
        The power came at most so long before `t_on`, s: so late did the switch answer.
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
    within_s: float = 0.0

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
    unseen: Sequence[Hole],
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
    unseen : sequence of Hole
        When the bench could not see the unit start.
    """
    begun = [*facts_in(marks, StartBegun)]
    ended = [*facts_in(marks, StartEnded)]
    within_s = {
        mark.t_s: power.within_s for mark, power in facts_in(marks, PowerChanged) if power.on
    }
    starts = []
    for at, (mark, begin) in enumerate(begun):
        until_s = begun[at + 1][0].t_s if at + 1 < len(begun) else float("inf")
        t_on, off_s = _power_of(mark.t_s, windows)
        end = next((stop for stop in ended if mark.t_s <= stop[0].t_s <= until_s), None)
        start = Start(
            kind=begin.kind,
            number=at + 1 if begin.number is None else begin.number,
            t_on=t_on,
            ended_s=end[0].t_s if end else None,
            took_s=_took_s(end[1]) if end else _seen_after(t_on, off_s, pictures),
            hole=NOTHING_SAID,
            stretch=mark.stretch,
            check=mark.check,
            off_s=begin.off_s,
            within_s=within_s.get(mark.t_s, 0.0),  # one begun by its button is timed by that
        )
        hole = _why_not_counted(start, off_s, unseen)
        if end is not None and end[1].woken:
            hole = msg("it came only when its button was pressed: did its power go at all?")
        if _still_alive(t_on, begun[at - 1][0].t_s if at else 0.0, marks):
            hole = msg("the unit was not seen to be off before this start")
        starts.append(replace(start, hole=hole))
    return starts


def with_late_cuts(
    found: Sequence[Start], windows: Sequence[Span], sheet: ModelSheet, unseen: Sequence[Hole]
) -> list[Start]:
    """Charge starts that were cut off later than any good one took: they had failed by then.

    Else whoever ends a soak as soon as a start is late would never see one fail. One that was cut
    off before that tells nothing and is not counted.

    Parameters
    ----------
    windows : sequence of (float, float)
        Spans with power.
    """
    good = [start.took_s for start in ordinary(found) if start.took_s is not None]
    longest_s = max(good) if len(good) >= FEWEST_OWN else states.usual_start_s(sheet)
    return [
        replace(began, hole=NOTHING_SAID) if _cut_late(began, windows, longest_s, unseen) else began
        for began in found
    ]


def _cut_late(
    start: Start, windows: Sequence[Span], longest_s: float, unseen: Sequence[Hole]
) -> bool:
    if start.took_s is not None or start.ended_s is not None:
        return False
    _, off_s = _power_of(start.t_on, windows)
    late_s = start.t_on + longest_s
    return off_s > late_s and _was_seen(late_s, off_s, unseen)


def _still_alive(t_on: float, since_s: float, marks: Sequence[Mark]) -> bool:
    """Tell whether the off before a start was not one: a welded relay starts nothing."""
    return any(since_s <= mark.t_s <= t_on for mark, _ in facts_in(marks, OffNotProved))


def _power_of(t_s: float, windows: Sequence[Span]) -> Span:
    """Return on and off of the power that belongs to a start mark made up to 5 s beside it."""
    near = [window for window in windows if abs(window[0] - t_s) <= 5]
    around = [window for window in windows if window[0] <= t_s <= window[1]]
    if near:
        return min(near, key=lambda window: abs(window[0] - t_s))
    return (t_s, around[0][1]) if around else (t_s, t_s)


def _took_s(ended: StartEnded) -> float | None:
    return ended.took_s if ended.seen else None


def _seen_after(t_on: float, off_s: float, pictures: Sequence[float] | None) -> float | None:
    return next((t_s - t_on for t_s in pictures or () if t_on <= t_s <= off_s), None)


def _why_not_counted(start: Start, off_s: float, unseen: Sequence[Hole]) -> Message:
    """Say why a start shows nothing.

    A picture that was seen in time stays a good start. Where none came, a hole changes that only
    if the bench saw nothing after it: a picture that came meanwhile would still have stood there.
    """
    if start.took_s is None and start.ended_s is None:
        return msg("the soak was cut off during this start")
    until_s = start.ended_s if start.ended_s is not None else off_s
    if start.took_s is not None or _was_seen(start.t_on, until_s, unseen, to_the_end=True):
        return NOTHING_SAID
    return msg("the bench was blind during this start")


def _was_seen(
    from_s: float, to_s: float, unseen: Sequence[Hole], *, to_the_end: bool = False
) -> bool:
    """Tell whether the bench saw anything of a span, its last moment if asked for.

    Where the unit's own power or plugs may have been touched it shows nothing of the unit.
    """
    near = [hole for hole in unseen if hole.from_s <= to_s and hole.explains[1] >= from_s]
    if any(hole.unit_too for hole in near):
        return False
    if to_the_end:
        return all(hole.explains[1] < to_s for hole in near)
    return bool(minus([(from_s, to_s)], [(hole.from_s, hole.explains[1]) for hole in near]))


def undecided(start: Start, limit_s: float, unseen: Sequence[Hole]) -> bool:
    """Tell whether nobody knows if a start kept its limit.

    One that looks slow may have been seen late: nobody saw from its limit to its picture. One that
    looks quick may have been slow where the switch answered late that the power is on.
    """
    if start.took_s is None:
        return False
    if start.took_s <= limit_s:
        return start.took_s + start.within_s > limit_s
    return not _was_seen(start.t_on + limit_s, start.t_on + start.took_s, unseen)


def usual_start_s(
    starts: Sequence[Start], sheet: ModelSheet, given_s: float | None = None
) -> float:
    """Return the usual time from power to picture in s.

    The median of at least three seen starts; else what is given, the model sheet's, or 20 s.
    """
    seen = ordinary_times_s(starts)
    if len(seen) >= FEWEST_OWN:
        return statistics.median(seen)
    return float(given_s or states.usual_start_s(sheet))


def ordinary_times_s(starts: Sequence[Start]) -> list[float]:
    """Return how long the starts took that show what is usual: after a real off, at nominal
    voltage, seen to their end.
    """
    return [start.took_s for start in ordinary(starts) if start.took_s is not None]


def first_times_s(starts: Sequence[Start]) -> list[float]:
    """Return how long the attended starts took in s: of kind `first`, else the first three."""
    good = [start for start in ordinary(starts) if start.took_s is not None]
    attended = [start for start in good if start.kind == "first"] or good[:FEWEST_OWN]
    return ordinary_times_s(attended)


def ordinary(starts: Sequence[Start]) -> list[Start]:
    """Return the starts after a real off at nominal voltage: those that show what is usual."""
    return [start for start in starts if start.kind in _ORDINARY]


class Timed(Protocol):
    """A start with the time it took, s, and how late its switch answered, s."""

    @property
    def took_s(self) -> float | None:
        """From power to the picture; None if there was none."""
        ...

    @property
    def within_s(self) -> float:
        """So much longer it may have taken."""
        ...


def slowest(timed: Iterable[Timed]) -> Message | None:
    """Say how long the slowest start took, and up to how long where the switch answered late."""
    times = [(start.took_s, start.within_s) for start in timed if start.took_s is not None]
    if not times:
        return None
    took_s, within_s = max(times, key=sum)
    time = Amount(took_s, "s")
    if within_s < LATE_ANSWER_S:
        return msg("the slowest took {time}", time=time)
    most = Amount(took_s + within_s, "s")
    return msg(
        "the slowest took {time} to {most}, as what switches its power answers late",
        time=time,
        most=most,
    )
