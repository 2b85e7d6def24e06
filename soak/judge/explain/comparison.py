"""Two soaks side by side: before and after a repair, a unit and its reference, a twin later."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from soak.derive.course import Course, course_of
from soak.derive.events.bouts import placed
from soak.derive.events.faults import UnitFault, failed_starts, terms_of, unit_faults
from soak.derive.events.trips import trips
from soak.derive.spans import inside
from soak.evidence import Evidence, Floats
from soak.instruments import ROLES, gone_kind
from soak.judge.grade import judge
from soak.names import named, source_named
from soak.statistics.bouts import Bouts
from soak.statistics.compare import compare_rates
from soak.words import NOTHING_SAID, Amount, Message, Number, counted, just, msg

_LAST_S = 1800.0
"""A warm temperature is the median of the last half hour with power. Our own choice."""
_DIFFERS = 0.05
"""Two sides that differ so much by luck once in twenty differ. Common practice."""
_LEAST_TOLD = 0.001
"""A smaller chance is said to be smaller: three decimals would make it none. Our own choice."""
_KINDS = {
    "dropout": msg("dropout"),
    "restart": msg("restart"),
    "hang": msg("hang"),
    **{gone_kind(role): entry.at_port.gone for role, entry in ROLES.items() if entry.at_port},
    "link gone": msg("device gone from the port"),
    "wrong data": msg("wrong data"),
}
"""Faults of the unit that are compared, as they are said."""


@dataclass(frozen=True, slots=True)
class Line:
    """One measure of two soaks.

    Attributes
    ----------
    what : Message
        What is measured.
    one, other : Message
        The values as they are printed; empty where a soak has none.
    differs : bool or None
        Whether more than chance is between them; None where no test fits (two single values).
    method : Message
        The test, or empty.
    chance : float or None
        Of so large a difference by luck alone, corrected for the number of lines that are tested.
    """

    what: Message
    one: Message
    other: Message
    differs: bool | None = None
    method: Message = NOTHING_SAID
    chance: float | None = None


def compare(one: Evidence, other: Evidence) -> Sequence[Line]:
    """Return what both soaks measured, side by side; the grade is each soak's by itself."""
    left = course_of(one)
    right = course_of(other)
    lines = [_grade(left, right), _length(left, right), _trips(left, right)]
    lines += [_starts(left, right), _start_times(left, right), *_faults(left, right)]
    for name in _probes(left, right):
        lines += [_highest(left, right, name), _warmth(left, right, name)]
    lines += [_speed(left, right), _damaged(left, right)]
    return corrected([line for line in lines if line is not None])


def corrected(lines: Sequence[Line]) -> Sequence[Line]:
    """Correct the chances of several lines, so that any false one is rare over them all.

    References
    ----------
    Holm, "A simple sequentially rejective multiple test procedure", Scandinavian Journal of
    Statistics 6 (1979) 65-70: whatever binds the lines, a false alarm among them all keeps its
    level.
    """
    chances = [(line.chance, at) for at, line in enumerate(lines) if line.chance is not None]
    made = list(lines)
    largest = 0.0
    for before, (chance, at) in enumerate(sorted(chances)):
        largest = max(largest, min(1.0, (len(chances) - before) * chance))
        method = lines[at].method
        if len(chances) > 1:
            method = msg(
                "{test}; {p} over {lines} lines, Holm 1979",
                test=method,
                p=_chance(largest),
                lines=len(chances),
            )
        made[at] = replace(lines[at], chance=largest, differs=largest < _DIFFERS, method=method)
    return made


def _grade(left: Course, right: Course) -> Line:
    shown = [named(judge([course]).grade) for course in (left, right)]
    return Line(msg("grade, this soak alone"), shown[0], shown[1])


def _length(left: Course, right: Course) -> Line:
    shown = [just(Amount(course.ends_s, "s")) for course in (left, right)]
    return Line(msg("length"), shown[0], shown[1])


def _trips(left: Course, right: Course) -> Line | None:
    if not trips(left) and not trips(right):
        return None
    shown = [_trips_told(course) for course in (left, right)]
    return Line(msg("trips of the guard"), shown[0], shown[1])


def _trips_told(course: Course) -> Message:
    cuts = trips(course)
    if not cuts:
        return msg("none")
    return counted(
        len(cuts),
        "{count}, {probe} after {time}",
        "{count}, first {probe} after {time}",
        probe=source_named(cuts[0].source),
        time=Amount(cuts[0].t_s, "s"),
    )


def _chance(p: float) -> Message:
    """Say a chance; never none at all."""
    return (
        msg("p = {p}", p=Number(p, ".3f"))
        if p >= _LEAST_TOLD
        else msg("p < {least}", least=Number(_LEAST_TOLD, "g"))
    )


def _starts(left: Course, right: Course) -> Line | None:
    counts = [(len(failed_starts(course)), len(course.starts)) for course in (left, right)]
    if not any(tried for _, tried in counts):
        return None
    shown = [
        msg("{failed} of {tried} failed", failed=failed, tried=tried) if tried else NOTHING_SAID
        for failed, tried in counts
    ]
    if not all(tried for _, tried in counts):
        return Line(msg("starts"), shown[0], shown[1])
    from scipy.stats import fisher_exact

    p = float(fisher_exact(np.array([[failed, tried - failed] for failed, tried in counts])).pvalue)
    method = msg("Fisher's exact test, {p}", p=_chance(p))
    return Line(msg("starts"), shown[0], shown[1], differs=None, method=method, chance=p)


def _start_times(left: Course, right: Course) -> Line | None:
    times = [[s.took_s for s in course.starts if s.took_s is not None] for course in (left, right)]
    if not all(len(took_s) >= 3 for took_s in times):
        return None
    from scipy.stats import mannwhitneyu

    shown = [just(Amount(float(np.median(took_s)), "s")) for took_s in times]
    p = float(mannwhitneyu(times[0], times[1]).pvalue)
    method = msg("Mann-Whitney, {p}", p=_chance(p))
    return Line(
        msg("median time to picture"), shown[0], shown[1], differs=None, method=method, chance=p
    )


def _faults(left: Course, right: Course) -> list[Line]:
    lines = []
    for kind in _KINDS:
        counts = [len(_of_kind(course, kind)) for course in (left, right)]
        hours = [sum(b - a for a, b in course.started) / 3600 for course in (left, right)]
        if not any(counts):
            continue
        shown = [
            msg("{count} in {hours} h", count=count, hours=Number(h, ".1f"))
            for count, h in zip(counts, hours, strict=True)
        ]
        if not all(hours):  # one never started: no rate to compare
            lines.append(Line(_KINDS[kind], shown[0], shown[1]))
            continue
        bouts, other = (_fewest(course, kind) for course in (left, right))
        p = 1.0
        if bouts.live > 0 and other.live > 0:
            p = compare_rates(bouts.number, bouts.live, other.number, other.live).differ
        method = msg("exact conditional test of two Poisson rates of bouts, {p}", p=_chance(p))
        lines.append(Line(_KINDS[kind], shown[0], shown[1], differs=None, method=method, chance=p))
    return lines


def _of_kind(course: Course, kind: str) -> list[UnitFault]:
    faults = unit_faults(course, terms_of(None, course.header))
    return [fault for fault in faults if fault.kind == kind]


def _fewest(course: Course, kind: str) -> Bouts:
    """Count as few bouts as there may be of a kind of fault."""
    spans = [(fault.from_s, fault.from_s) for fault in _of_kind(course, kind)]
    return placed([(course.started, spans)]).fewest()


def _probes(left: Course, right: Course) -> list[str]:
    both = left.header.fixture.probes.keys() & right.header.fixture.probes.keys()
    return sorted(both)


def _highest(left: Course, right: Course, name: str) -> Line | None:
    unit = left.header.fixture.probes[name].unit
    values = [course.series(f"probe.{name}")[1] for course in (left, right)]
    if not all(map(len, values)):
        return None
    shown = [just(Amount(float(value.max()), unit)) for value in values]
    return Line(msg("{probe}, highest", probe=name), shown[0], shown[1])


def _warmth(left: Course, right: Course, name: str) -> Line | None:
    unit = left.header.fixture.probes[name].unit
    values = [_warm(course, f"probe.{name}") for course in (left, right)]
    if any(value is None for value in values):
        return None
    shown = [just(Amount(float(value), unit)) for value in values if value is not None]
    return Line(msg("{probe}, last half hour with power", probe=name), shown[0], shown[1])


def _warm(course: Course, source: str) -> float | None:
    t_s, values = course.series(source)
    if not course.power or not len(t_s):
        return None
    until_s = course.power[-1][1]
    last = values[inside(t_s, [(until_s - _LAST_S, until_s)])]
    return float(np.median(last)) if len(last) else None


def _speed(left: Course, right: Course) -> Line | None:
    speeds: list[Floats] = [c.series("transfer.stick.speed")[1] for c in (left, right)]
    if not all(len(values) for values in speeds):
        return None
    shown = [just(Amount(float(np.median(values)), "B/s")) for values in speeds]
    return Line(msg("median read speed"), shown[0], shown[1])


def _damaged(left: Course, right: Course) -> Line | None:
    damaged = [course.series("transfer.stick.damaged")[1] for course in (left, right)]
    if not any(len(values) for values in damaged):
        return None
    shown = [just(Amount(float(values.sum()), "B")) for values in damaged]
    return Line(msg("bytes that did not come back right"), shown[0], shown[1])
