"""What one soak saw of a unit: failures by kind and in what time, demands met and not met."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from soak.derive.course import Course
from soak.derive.events.bouts import Seen, placed
from soak.derive.events.faults import (
    UnitFault,
    picture_faults,
    port_faults,
    terms_of,
    wrong_data,
)
from soak.derive.events.moved import REST, Moved, movements, placed_in
from soak.derive.jobs_before import FailureKind, Failures, Saw, moved_at
from soak.derive.spans import Span, common, holds, minus, total_s
from soak.derive.starting.starts import ordinary
from soak.derive.starting.tried import tried
from soak.instruments import watchers_at
from soak.judge.before.demands import demands_of
from soak.judge.judging import rule_of
from soak.records import Header, Requirement
from soak.rules.wiggle import NO_EPISODE_WHEN_MOVED
from soak.states import lost

LET_GO_S = 5.0
"""What a hand did to a plug may show so long after it let go, s. Our own choice."""

BETWEEN_READS_S = 1.0
"""A transfer reads at most so often, s; after a longer pause no data was crossing. Our own
choice."""


@dataclass(frozen=True, slots=True)
class Measures:
    """By what a failure is told: a loss so long, a start that takes longer, s; None: not stated."""

    shortest_s: float | None = None
    start_limit_s: float | None = None

    def stricter(self, other: "Measures") -> "Measures":
        """Return the stricter of both."""
        return Measures(
            _smaller(self.shortest_s, other.shortest_s),
            _smaller(self.start_limit_s, other.start_limit_s),
        )


def _smaller(one: float | None, other: float | None) -> float | None:
    return min((value for value in (one, other) if value is not None), default=None)


def measures_of(course: Course) -> Measures:
    """Return by what a soak itself told failures."""
    starts = ordinary(course.starts)
    return Measures(
        terms_of(None, course.header).at_least_s if "capture" in course.roles else None,
        course.start_limit().limit_s if starts else None,
    )


def saw(course: Course, by: Measures, *, whole: bool = True) -> Saw:
    """Return what a soak saw.

    Parameters
    ----------
    by : Measures
        The strictest by which failures were ever told: a looser script does not make them fewer.
    whole : bool
        Whether the demands that are met or not as a whole matter too; they take longer.

    Raises
    ------
    JournalError
        If what was demanded of a moved plug cannot be read: its movements would count as rest.
    """
    moves = [
        (need, terms.heat, terms.port, movements(need, terms, course))
        for need, terms in NO_EPISODE_WHEN_MOVED.among(course.header.requirements)
    ]
    hands = [(m.from_s, m.to_s) for *_, all_ in moves for m in all_ if m.movement != REST]
    by = by.stricter(measures_of(course))
    failures = [
        *_picture(course, by, hands),
        *_starts(course, by),
        *_data(course),
        *_at_ports(course),
        *(_moved(need, port, heat, all_) for need, heat, port, all_ in moves),
    ]
    return Saw(failures=tuple(failures), demands=tuple(demands_of(course)) if whole else ())


def functions_of(header: Header, kind: FailureKind, where: str = "") -> tuple[str, ...]:
    """Return the functions that failures of a kind speak of: those that its demands show.

    A restart may come from what feeds the unit as well, so a function at an inlet counts along.
    """
    names: set[str] = set()
    for need in header.requirements:
        rule = rule_of(need)
        if rule is not None and rule.failures is kind and (not where or where in need.needs):
            names |= need.shows_repair
    if kind is FailureKind.RESTARTS:
        ports = header.model_sheet.ports
        inlets = {name for name, port in ports.items() if port.kind == "power"}
        functions = header.model_sheet.functions
        names |= {name for name, one in functions.items() if one.port in inlets}
    return tuple(sorted(names))


def _picture(course: Course, by: Measures, hands: Sequence[Span]) -> Iterator[Failures]:
    """Yield losses of the picture and restarts with hands off: a moved plug opens far oftener."""
    if "capture" not in course.roles:
        return
    terms = terms_of(None, course.header)
    terms = replace(terms, at_least_s=by.shortest_s or terms.at_least_s)
    moved = [(from_s, to_s + LET_GO_S) for from_s, to_s in hands]
    faults = [
        picture_fault
        for picture_fault in picture_faults(course, terms)
        if not holds(picture_fault.from_s, moved)
    ]
    quiet = minus(minus(course.started, course.unseen("capture", terms.bad)), hands)
    watched = common(quiet, course.session_spans)
    dropouts = [fault for fault in faults if fault.kind == "dropout"]
    others = [fault for fault in faults if fault.kind != "dropout"]
    for kind, own in ((FailureKind.PICTURE, dropouts), (FailureKind.RESTARTS, others)):
        functions = functions_of(course.header, kind)
        seen = _seen(watched, own)
        by_s = terms.at_least_s
        yield _counted(kind, len(own), total_s(watched), functions, seen=seen, by_s=by_s)


def _starts(course: Course, by: Measures) -> Iterator[Failures]:
    counted = tried(ordinary(course.starts), by.start_limit_s or float("inf"), course)
    # Unit or switch failed and nobody knows which: no later job may forget it.
    unknown = course.gone_dead is not None
    if counted or unknown:
        functions = functions_of(course.header, FailureKind.STARTS)
        failed = sum(bad for _, bad in counted) + unknown
        limit_s = by.start_limit_s
        made = len(counted) + unknown
        yield _counted(FailureKind.STARTS, failed, made, functions, by_s=limit_s)


def _data(course: Course) -> Iterator[Failures]:
    if "stick" in course.roles and course.stick_proves_unit:
        t_s, longest_s = course.series("transfer.stick.chunk_s")
        between_s = np.diff(t_s, prepend=t_s[:1] - longest_s[:1])
        crossing_s = np.minimum(between_s, longest_s + BETWEEN_READS_S)
        over_s = float(crossing_s.sum())
        functions = functions_of(course.header, FailureKind.DATA)
        crossed_s = np.cumsum(crossing_s)
        wrong = wrong_data(course)
        at = np.searchsorted(t_s, [fault.from_s for fault in wrong])
        before_s = crossed_s[np.minimum(at, len(t_s) - 1)] if len(t_s) else np.zeros(len(wrong))
        seen = Seen([float(before) for before in before_s], over_s)
        yield _counted(FailureKind.DATA, len(wrong), over_s, functions, seen=seen)


def _at_ports(course: Course) -> Iterator[Failures]:
    header = course.header
    if "stick" in course.roles and course.stick_proves_unit:
        unseen = course.unseen("stick", lost("stick", header.model_sheet))
        yield _at_port(course, "stick", port_faults(course, "stick"), minus(course.started, unseen))
    for source in watchers_at(header.fixture):
        there = [(p.from_s, p.to_s) for p in course.periods(source) if p.state == "seen"]
        yield _at_port(course, source, port_faults(course, source), common(course.started, there))


def _at_port(
    course: Course, source: str, faults: Sequence[UnitFault], seen: Sequence[Span]
) -> Failures:
    functions = functions_of(course.header, FailureKind.PORT, source)
    own = _seen(seen, faults)
    return _counted(FailureKind.PORT, len(faults), total_s(seen), functions, where=source, seen=own)


def _seen(watched: Sequence[Span], faults: Sequence[UnitFault]) -> Seen:
    return placed([(watched, [(fault.from_s, fault.to_s) for fault in faults])])


def _moved(need: Requirement, port: str, heat: str, all_: Sequence[Moved]) -> Failures:
    hands = [moved for moved in all_ if moved.movement != REST]
    return _counted(
        FailureKind.MOVED,
        sum(len(hand.events) for hand in hands),
        sum(hand.seen_s for hand in hands),
        tuple(sorted(need.shows_repair)),
        where=moved_at(port, heat),
        seen=placed_in(hands),
    )


def _counted(
    kind: FailureKind,
    events: int,
    over: float,
    functions: tuple[str, ...],
    *,
    where: str = "",
    by_s: float | None = None,
    seen: Seen | None = None,
) -> Failures:
    fewest = seen.fewest() if seen is not None else None
    return Failures(
        kind=kind,
        where=where,
        events=events,
        over=round(over, 3),
        by_s=by_s,
        functions=functions,
        bouts=fewest.number if fewest else None,
        live=round(fewest.live, 3) if fewest else None,
    )
