"""What became of the bench itself in a soak: holes, clock steps, and what came garbled."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.marks import COUNTED, LINES, ClockStepped, fact_as, facts, said_by
from soak.names import source_named
from soak.records import Json, Mark, State
from soak.report.contents.seen import Unseen, unseen
from soak.report.contents.telling import stream_words
from soak.words import Amount, Message, counted, joined, msg

_WORTH_SAYING_S = 1.0
_OPENS_WITHIN_S = 5.0
"""Instruments take a few seconds to say their first word."""


def bench_lines(course: Course) -> list[Message]:
    """Return a line for each hole in order of time, each clock step, and what was counted."""
    lines = [
        joined(
            "  ",
            [
                clock(hole.from_s),
                msg(
                    "hole of {lasts}, {covers}: {why}",
                    lasts=hole.lasts,
                    covers=hole.covers,
                    why=hole.why,
                ),
            ],
        )
        for hole in _holes(course)
    ]
    lines += [_stepped(mark.t_s, fact_as(mark, ClockStepped).by_s) for mark in _steps(course)]
    for source, states in _counts(course).items():
        number = _total(states)
        last = said_by(states[-1]).last
        lines.append(
            counted(
                number,
                "{source}: 1 line could not be read; the last: {last}",
                "{source}: {count} lines could not be read; the last: {last}",
                source=source_named(source),
                last=str(last),
            )
        )
    if delivered := stream_words(course):
        lines.append(joined(": ", [source_named("capture"), delivered]))
    return lines


def bench_as_data(course: Course) -> Json:
    """Return the same as data."""
    return {
        "holes": [
            {
                "from_s": hole.from_s,
                "lasts_s": hole.lasts_s,
                "source": hole.source or None,
                "why": str(hole.why),
            }
            for hole in _holes(course)
        ],
        "clock_steps": [
            {"t_s": mark.t_s, "by_s": step.by_s} for mark, step in facts(course, ClockStepped)
        ],
        "unread": {source: _total(states) for source, states in _counts(course).items()},
    }


def _holes(course: Course) -> list[Unseen]:
    return [hole for hole in unseen(course) if _worth_saying(hole)]


def _worth_saying(one: Unseen) -> bool:
    """Tell whether it is more than an instrument's first word."""
    least_s = _WORTH_SAYING_S if one.from_s > 0 else _OPENS_WITHIN_S
    return one.marked or one.lasts_s is None or one.lasts_s > least_s


def _steps(course: Course) -> Sequence[Mark]:
    return course.marks(ClockStepped.mark)


def _stepped(t_s: float, by_s: float) -> Message:
    by = Amount(abs(by_s), "s")
    if by_s > 0:
        sentence = msg("the wall clock was set ahead by {time}", time=by)
    else:
        sentence = msg("the wall clock was set back by {time}", time=by)
    return joined("  ", [clock(t_s), sentence])


def _counts(course: Course) -> dict[str, Sequence[State]]:
    """Return what was told of each source of which something could not be read."""
    lines = {source: course.states(f"{source}{LINES}") for source in course.sources}
    counted = {
        source: [state for state in states if state.state == COUNTED]
        for source, states in lines.items()
    }
    return {source: states for source, states in counted.items() if states}


def _total(told: Sequence[State]) -> int:
    """Add up over the times the instrument was opened: one that was opened anew counts from 0."""
    total = before = 0
    for state in told:
        now = said_by(state).unread
        total += now - before if now >= before else now
        before = now
    return total


def clock(t_s: float) -> str:
    """Write a soak time as h:mm:ss."""
    hours, rest = divmod(int(t_s), 3600)
    return f"{hours}:{rest // 60:02d}:{rest % 60:02d}"
