"""Whether a measured quantity stays within its limit, and whether the guard cut the power."""

from collections.abc import Sequence
from functools import partial

import numpy as np

from soak.derive.course import Course
from soak.derive.events.faults import UnitFault, trip_faults
from soak.derive.events.trips import Trip, Whose, trips
from soak.derive.seeing.coverage import coverage
from soak.derive.seen import trace
from soak.records import Requirement
from soak.rules.core import lacks
from soak.rules.core.bands import SIMPLE, accuracy_of, guarded
from soak.rules.core.finding import Value, not_shown, point_at, settle
from soak.rules.core.reads import Counted, Reads, Side, accuracy
from soak.rules.core.rule import Bounds, Harm, Rule, Section
from soak.rules.core.verdict import Finding, Pointer
from soak.terms import SpotTerms, terms
from soak.words import Amount, Message, Stated, begin, counted, joined, msg, sentence


@terms
class TripTerms(SpotTerms):
    """The probe whose trip is meant, and where it trips."""

    source: str = ""
    trip_degc: float | None = None


def _highest(need: Requirement, terms: SpotTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the largest reading of a quantity is not above `limit`."""
    return _extreme(need, soaks, Side.AT_MOST)


def _lowest(need: Requirement, terms: SpotTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the smallest reading of a quantity is not below `limit`."""
    return _extreme(need, soaks, Side.AT_LEAST)


def _extreme(need: Requirement, soaks: Sequence[Course], side: Side) -> Finding:
    sign = side.value
    traces = [trace(course, need) for course in soaks]
    pairs = list(zip(soaks, traces, strict=True))
    covered = [coverage(course, need, one.unseen) for course, one in pairs]
    read = [(course, one) for course, one in pairs if len(one.t_s)]
    if not read:
        return not_shown(need, covered[-1].why or msg("there is no reading"))
    if need.limit is None:
        return not_shown(need, msg("the requirement gives no limit"))
    course, worst = max(read, key=lambda pair: float(np.max(sign * pair[1].value)))
    at = int(np.argmax(sign * worst.value))
    extreme = float(worst.value[at])
    when_s = float(worst.t_s[at])
    shown = Amount(extreme, need.unit)
    text = _told(side, shown, when_s, Amount(need.limit, need.unit))
    margin = sign * (need.limit - extreme)
    pointers = [Pointer(course.header.soak_id, when_s, when_s, _word(side, shown))]
    detail = {"readings": sum(len(one.t_s) for _, one in read)}
    if not need.guarded:
        method = joined("; ", [_METHODS[side], SIMPLE])
        value = Value(extreme, margin=margin, method=method)
        good = margin >= 0
        return settle(
            need,
            good,
            sentence(text),
            found=value,
            covered=covered,
            pointers=pointers,
            detail=detail,
        )
    known = accuracy_of(course, need.quantity)
    return guarded(
        need,
        extreme,
        margin,
        accuracy=known,
        told=text,
        covered=covered,
        pointers=pointers,
        detail=detail,
    )


_METHODS = {Side.AT_MOST: msg("Highest reading"), Side.AT_LEAST: msg("Lowest reading")}


def _told(side: Side, value: Amount, when_s: float, limit: Amount) -> Message:
    time = Amount(when_s, "s")
    if side is Side.AT_MOST:
        return msg(
            "the highest reading was {value} at {time}; the limit is {limit}",
            value=value,
            time=time,
            limit=limit,
        )
    return msg(
        "the lowest reading was {value} at {time}; the limit is {limit}",
        value=value,
        time=time,
        limit=limit,
    )


def _word(side: Side, value: Amount) -> Message:
    if side is Side.AT_MOST:
        return msg("highest: {value}", value=value)
    return msg("lowest: {value}", value=value)


def _beyond(
    need: Requirement, terms: SpotTerms, course: Course, *, side: Side
) -> Sequence[UnitFault]:
    """Return the first reading beyond the limit."""
    one = trace(course, need)
    if need.limit is None:
        return []
    beyond = np.flatnonzero(side.value * (one.value - need.limit) > 0)
    if not len(beyond):
        return []
    when_s = float(one.t_s[beyond[0]])
    text = msg(
        "{quantity} read {value}, limit {limit}",
        quantity=need.quantity,
        value=Amount(float(one.value[beyond[0]]), need.unit),
        limit=Amount(need.limit, need.unit),
    )
    return [UnitFault(when_s, when_s, "beyond limit", text=text, source=need.quantity)]


def _stays_below(need: Requirement, terms: SpotTerms) -> Message:
    return msg(
        "{spot} stays at or below {limit}",
        spot=begin(terms.spot or need.quantity),
        limit=Stated(need.limit or 0.0, need.unit),
    )


def _stays_above(need: Requirement, terms: SpotTerms) -> Message:
    return msg(
        "{spot} stays at or above {limit}",
        spot=begin(terms.spot or need.quantity),
        limit=Stated(need.limit or 0.0, need.unit),
    )


AT_MOST = Rule(
    name="at most",
    terms=SpotTerms,
    judge=_highest,
    demands=_stays_below,
    reads=Reads(bound_words=accuracy, level=True),
    lacks=lacks.time,
    section=Section.HEAT,
    bounds=Bounds.ACCURACY,
    unit=None,
    beyond=partial(_beyond, side=Side.AT_MOST),
    anywhere=True,
)

AT_LEAST = Rule(
    name="at least",
    terms=SpotTerms,
    judge=_lowest,
    demands=_stays_above,
    reads=Reads(side=Side.AT_LEAST, bound_words=accuracy, level=True),
    lacks=lacks.time,
    section=Section.HEAT,
    bounds=Bounds.ACCURACY,
    unit=None,
    beyond=partial(_beyond, side=Side.AT_LEAST),
)


AFTER_S = 10.0
"""A trip ends its stretch, so its mark may come so long after the stretch's end. Our own choice."""


def _no_trip(need: Requirement, terms: TripTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the guard never had to cut the power."""
    source = terms.source or need.quantity
    allowed = need.limit or 0.0
    number = 0
    pointers = []
    covered = []
    doubtful: list[Trip] = []
    for course in soaks:
        here = [
            trip
            for trip in trips(course)
            if source in ("", trip.source) and _concerns(course, need.stretch, trip.t_s)
        ]
        doubtful += [trip for trip in here if trip.whose is Whose.UNKNOWN]
        times_s = {trip.t_s for trip in here}
        charged = [fault for fault in trip_faults(course) if fault.from_s in times_s]
        number += len(charged)
        pointers += point_at(course, charged)
        unseen = trace(course, need, source).unseen if source else ()
        covered.append(coverage(course, need, unseen))
    if doubtful and number <= allowed:
        return not_shown(need, doubtful[0].told)
    text = counted(
        number,
        "1 trip of the guard",
        "{count} trips of the guard",
        none=msg("no trip of the guard"),
    )
    value = Value(number, margin=allowed - number, method=msg("Trips counted"))
    return settle(
        need, number <= allowed, sentence(text), found=value, covered=covered, pointers=pointers
    )


def _concerns(course: Course, stretch: str, t_s: float) -> bool:
    """Tell whether a trip fell into a stretch, or into no other since it last began.

    So that of an interrupted stretch counts what came while the unit rested after a resume.
    """
    if any(begin_s <= t_s <= end_s + AFTER_S for begin_s, end_s in course.windows(stretch)):
        return True
    names = [str(entry.name) for entry in course.header.script.stretches]
    began = [
        (begin_s, name) for name in names for begin_s, _ in course.windows(name) if begin_s <= t_s
    ]
    return bool(began) and max(began)[1] == stretch


def _never_cut(need: Requirement, terms: TripTerms) -> Message:
    return msg(
        "The guard never had to cut the power at {spot} ({limit})",
        spot=terms.spot or terms.source or need.quantity,
        limit=Stated(terms.trip_degc or 0.0, "degC"),
    )


NO_TRIP = Rule(
    name="no trip",
    terms=TripTerms,
    judge=_no_trip,
    demands=_never_cut,
    reads=Counted(),
    lacks=lacks.time,
    section=Section.HEAT,
    bounds=Bounds.NONE,
    anywhere=True,
    harm=Harm.SAFETY,
)
