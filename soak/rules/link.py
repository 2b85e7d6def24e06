"""Whether what is watched at the unit's port stayed, at its full speed, without resets."""

from collections.abc import Callable, Sequence
from functools import wraps
from typing import TypeAlias, TypeVar

import numpy as np

from soak.derive.course import Course
from soak.derive.events.bouts import placed
from soak.derive.events.faults import UnitFault, port_faults
from soak.derive.jobs_before import FailureKind
from soak.derive.seeing.coverage import coverage
from soak.derive.spans import common, holds, inside, total_s, touching
from soak.frozen.wiring import role_of
from soak.instruments import WATCHES, Watch, watchers_at
from soak.marks import said_by
from soak.records import Requirement
from soak.rules.core import lacks
from soak.rules.core.bouts import by_bouts, how_often
from soak.rules.core.finding import Value, not_shown, not_tested, point_at, settle
from soak.rules.core.pointed_at import pointed_at
from soak.rules.core.reads import Counted, Reads, Side, rate
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer
from soak.states import lost
from soak.terms import terms
from soak.words import (
    Amount,
    Message,
    Stated,
    counted,
    joined,
    just,
    msg,
    paragraph,
    sentence,
)

_METHOD = msg(
    "Times the device left, counted; one-sided upper bound of the rate per hour after "
    "NIST/SEMATECH e-Handbook 8.4.5.1"
)


@terms
class LinkTerms:
    """The unit's port, by its name in the model sheet; the demand's quantity says what watches."""

    port: str = ""


def _source(need: Requirement) -> str:
    """Return the role that watches: `link` of `link.speed`."""
    return role_of(need.quantity)


def _said(need: Requirement) -> Watch:
    """Return what is said of what is watched."""
    return WATCHES.get(role_of(need.quantity), WATCHES["link"])


L = TypeVar("L", bound=LinkTerms)
Judge: TypeAlias = Callable[[Requirement, L, Sequence[Course]], Finding]


def _at_units_port(judge: Judge[L]) -> Judge[L]:
    """Let a rule judge only soaks in which a port of the unit was watched."""

    @wraps(judge)
    def judged(need: Requirement, terms: L, soaks: Sequence[Course]) -> Finding:
        own = [course for course in soaks if _source(need) in watchers_at(course.header.fixture)]
        return judge(need, terms, own) if own else not_tested(need, _said(need).elsewhere)

    return judged


@_at_units_port
def _link_stayed(need: Requirement, terms: LinkTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the device never left the port while the unit had power and was started."""
    allowed = need.limit or 0.0
    source = _source(need)
    pointers = []
    covered = []
    watched = []
    left = []
    for course in soaks:
        windows = course.windows(need.stretch)
        here = [fault for fault in port_faults(course, source) if holds(fault.from_s, windows)]
        left.append([(fault.from_s, fault.to_s) for fault in here])
        pointers += point_at(course, here)
        unseen = course.unseen(source, lost(source, course.header.model_sheet))
        covered.append(coverage(course, need, unseen))
        there = [(p.from_s, p.to_s) for p in course.periods(source) if p.state == "seen"]
        watched.append(common(common(windows, course.started), there))
    number = sum(map(len, left))
    seen_s = sum(map(total_s, watched))
    if seen_s <= 0 and not number:
        return not_shown(need, covered[-1].why or _never_seen(soaks[-1], need))
    often = how_often(need, placed(zip(watched, left, strict=True)))
    text = _said(need).losses(number, Amount(seen_s, "s"))
    margin = allowed - number
    value = Value(
        number, bound_high=often.most_per_h, margin=margin, method=by_bouts(_METHOD), over=seen_s
    )
    because = paragraph(sentence(text), often.told)
    return settle(
        need,
        number <= allowed,
        because,
        found=value,
        covered=covered,
        pointers=pointers,
        detail=often.detail,
    )


def _never_seen(course: Course, need: Requirement) -> Message:
    """Say that nothing was ever there, and what its watcher said of it."""
    why = next((said_by(state).why for state in course.states(_source(need))), "")
    return _said(need).never(why)


def _stays(need: Requirement, terms: LinkTerms) -> Message:
    return _but(need, _said(need).stays)


def _but(need: Requirement, demand: Message) -> Message:
    """Say a demand with how often it may be broken."""
    return counted(
        need.limit or 0.0,
        "{demand}, but for 1 time",
        "{demand}, but for {count} times",
        none=demand,
        demand=demand,
    )


LINK_STAYED = Rule(
    name="link stayed",
    terms=LinkTerms,
    judge=_link_stayed,
    demands=_stays,
    reads=Counted(bound_words=rate),
    lacks=lacks.time,
    section=Section.LINK,
    bounds=Bounds.RATE,
    anywhere=True,
    failures=FailureKind.PORT,
)


@terms
class SettledTerms(LinkTerms):
    """How long a speed holds that is no part of an arrival, s."""

    settles_s: float = 0.0


@_at_units_port
def _at_least_speed(need: Requirement, terms: SettledTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the link never ran at less than `limit` Mb/s, arrivals left aside."""
    limit = need.limit or 0.0
    pointers = []
    covered = []
    speeds: list[float] = []
    for course in soaks:
        covered.append(coverage(course, need, course.blind(_source(need))))
        for from_s, to_s, speed in _speeds(course, need, terms):
            speeds.append(speed)
            if speed < limit:
                time = Amount(to_s - from_s, "s")
                name = _said(need).named_speed(speed)
                text = msg("{speed} for {time}", speed=name, time=time)
                pointers.append(Pointer(course.header.soak_id, from_s, to_s, text))
    if not speeds:
        return not_shown(need, covered[-1].why or _said(need).no_speed)
    lowest = min(speeds)
    value = Value(lowest, margin=lowest - limit, method=msg("Lowest negotiated signalling rate"))
    because = sentence(_because(speeds, limit, _said(need)))
    detail = {"speeds_mbps": sorted(set(speeds)), "slow": len(pointers)}
    return settle(
        need,
        lowest >= limit,
        because,
        found=value,
        covered=covered,
        pointers=pointers,
        detail=detail,
    )


def _speeds(
    course: Course, need: Requirement, terms: SettledTerms
) -> list[tuple[float, float, float]]:
    """Return (from, to, Mb/s) of each time the link held a speed within the stretch."""
    t_s, value = course.series(need.quantity)
    there = [(p.from_s, p.to_s) for p in course.periods(_source(need)) if p.state == "seen"]
    windows = course.windows(need.stretch)
    falls: list[tuple[float, float, float]] = []
    for begin_s, end_s in there:
        chosen = (t_s >= begin_s) & (t_s < end_s)
        times = t_s[chosen]
        speeds = value[chosen]
        starts = np.flatnonzero(np.diff(speeds, prepend=np.nan) != 0)
        for at in starts:
            later = starts[starts > at]
            to_s = float(times[later[0]]) if len(later) else end_s
            falls.append((float(times[at]), to_s, float(speeds[at])))
    return [
        (max(from_s, part[0]), min(to_s, part[1]), speed)
        for from_s, to_s, speed in falls
        if to_s - from_s >= terms.settles_s
        for part in common([(from_s, to_s)], windows)
    ]


def _because(speeds: Sequence[float], limit: float, said: Watch) -> Message:
    lowest = min(speeds)
    highest = max(speeds)
    if lowest >= limit:
        return said.ran_at(said.named_speed(lowest))
    if highest >= limit:
        text = msg("it fell back to {speed}", speed=said.named_speed(lowest))
    else:
        text = msg("it never ran faster than {speed}", speed=said.named_speed(highest))
    return joined(": ", [text, said.hint(lowest, limit)])


def _slower(need: Requirement, terms: SettledTerms, course: Course) -> Sequence[UnitFault]:
    pointed = pointed_at(_at_least_speed, f"slow {_source(need)}", _source(need), _said(need).slow)
    return pointed(need, terms, course)


def _runs_at(need: Requirement, terms: SettledTerms) -> Message:
    speed = Stated(need.limit or 0.0, "Mb/s")
    if not terms.settles_s:
        return _said(need).runs_at(speed)
    return msg(
        "{demand}, once it has settled for {time}",
        demand=_said(need).runs_at(speed),
        time=Amount(terms.settles_s, "s"),
    )


AT_LEAST_SPEED = Rule(
    name="at least speed",
    terms=SettledTerms,
    judge=_at_least_speed,
    demands=_runs_at,
    reads=Reads(side=Side.AT_LEAST),
    lacks=lacks.time,
    section=Section.LINK,
    bounds=Bounds.NONE,
    unit="Mb/s",
    beyond=_slower,
)


RESETS = "link.resets"
DESCRIPTOR_FAILURES = "link.descriptor_failures"
OVER_CURRENT = "link.over_current"
"""Events that a link may count, as quantities."""


@_at_units_port
def _link_events(need: Requirement, terms: LinkTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that no more than `limit` resets, failures or over-currents were counted."""
    allowed = need.limit or 0.0
    number = 0.0
    pointers = []
    covered = []
    cannot = ""
    for course in soaks:
        identity = course.header.fixture.identity(_source(need))
        why = identity.cannot.get(need.quantity.removeprefix(f"{_source(need)}."), "")
        t_s, value = course.series(need.quantity)
        if why or not len(t_s):  # a link that watches for it says so by a first reading of none
            cannot = cannot or why
            continue
        windows = common(course.windows(need.stretch), course.started)
        hands = [hole for hole in course.told_holes if hole.to_s > hole.from_s]
        apart = [(hole.from_s, hole.to_s) for hole in hands if hole.source in ("", _source(need))]
        chosen = inside(t_s, windows) & (value > 0)
        for at in np.flatnonzero(chosen):
            when_s = float(t_s[at])
            if touching(when_s - 1, when_s + 1, [*apart, *course.blind(_source(need))]) is None:
                number += float(value[at])
                text = _events(need.quantity, float(value[at]))
                pointers.append(Pointer(course.header.soak_id, when_s, when_s, text))
        covered.append(coverage(course, need, course.blind(_source(need))))
    if not covered:
        unknown = msg("the link does not tell of it")
        return not_tested(need, just(str(cannot)) if cannot else unknown)
    number_ = Value(number, margin=allowed - number, method=msg("Events counted"))
    because = sentence(_events(need.quantity, number))
    return settle(
        need, number <= allowed, because, found=number_, covered=covered, pointers=pointers
    )


def _events(quantity: str, number: float) -> Message:
    """Say how many events of a kind there were."""
    if quantity == RESETS:
        return counted(
            number,
            "1 reset by the host",
            "{count} resets by the host",
            none=msg("no reset by the host"),
        )
    if quantity == DESCRIPTOR_FAILURES:
        return counted(
            number,
            "1 failed reading of the descriptor",
            "{count} failed readings of the descriptor",
            none=msg("no failed reading of the descriptor"),
        )
    if quantity == OVER_CURRENT:
        return counted(
            number,
            "1 over-current at the port",
            "{count} over-currents at the port",
            none=msg("no over-current at the port"),
        )
    return counted(number, "1 {event}", "{count} {event}", none=_no(quantity), event=quantity)


def _no(event: str) -> Message:
    return msg("no {event}", event=event)


def _without(need: Requirement, terms: LinkTerms) -> Message:
    known = {
        RESETS: msg("The host never has to reset the device"),
        DESCRIPTOR_FAILURES: msg("The device always says what it is"),
        OVER_CURRENT: msg("The port never reports an over-current"),
    }
    return _but(need, known.get(need.quantity) or _no(need.quantity))


LINK_EVENTS = Rule(
    name="link events",
    terms=LinkTerms,
    judge=_link_events,
    demands=_without,
    reads=Counted(),
    lacks=lacks.time,
    section=Section.LINK,
    bounds=Bounds.NONE,
    beyond=pointed_at(_link_events, "link event", "link"),
)
