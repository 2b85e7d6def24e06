"""Whether the unit heats up no further over its surroundings than it may."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soak.derive.course import Course
from soak.derive.events.faults import UnitFault
from soak.derive.seeing.coverage import coverage
from soak.derive.seen import trace
from soak.derive.spans import Span, inside, merged, runs, total_s
from soak.evidence import Floats
from soak.records import Requirement
from soak.rules.core import lacks
from soak.rules.core.bands import SIMPLE, accuracy_of, guarded
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.reads import Reads, accuracy
from soak.rules.core.rule import Bounds, Rule, Section, no_probe
from soak.rules.core.verdict import Finding, Pointer
from soak.terms import SpotTerms, terms
from soak.words import Amount, Message, Stated, begin, joined, msg, sentence


@terms
class RiseTerms(SpotTerms):
    """Over which ambient a spot rises.

    Attributes
    ----------
    ambient : str
        Quantity of the surroundings; empty: nobody measures them.
    ambient_low_degc, ambient_high_degc : float
        Outside this band of the surroundings a rise is not shown, degC.
    """

    ambient: str = "probe.ambient"
    ambient_low_degc: float = 15.0
    ambient_high_degc: float = 30.0


@dataclass(frozen=True, slots=True)
class _Rise:
    """Rise over ambient in K, ambient within its band; when it was not seen or outside."""

    t_s: Floats
    rise_k: Floats
    unseen: Sequence[Span]
    outside: Sequence[Span]


def _rise_in(need: Requirement, terms: RiseTerms, course: Course) -> _Rise:
    """Return the rise in K, ambient taken in a straight line between its readings."""
    probe = trace(course, need)
    ambient = trace(course, need, terms.ambient)
    unseen = merged([*probe.unseen, *ambient.unseen])
    if not len(probe.t_s) or not len(ambient.t_s):
        empty = np.empty(0)
        return _Rise(empty, empty, unseen, ())
    around = np.interp(probe.t_s, ambient.t_s, ambient.value)
    in_band = (around >= terms.ambient_low_degc) & (around <= terms.ambient_high_degc)
    counts = in_band & ~inside(probe.t_s, unseen)
    outside = runs(probe.t_s, ~in_band)
    rise_k = np.subtract(probe.value, around, out=around)
    if counts.all():
        return _Rise(probe.t_s, rise_k, unseen, outside)
    return _Rise(probe.t_s[counts], rise_k[counts], unseen, outside)


def _judge(need: Requirement, terms: RiseTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that a spot is never more than `limit` K warmer than its surroundings."""
    rises = [_rise_in(need, terms, course) for course in soaks]
    pairs = list(zip(soaks, rises, strict=True))
    covered = [coverage(course, need, merged([*one.unseen, *one.outside])) for course, one in pairs]
    read = [(course, one) for course, one in pairs if len(one.rise_k)]
    if need.limit is None:
        return not_shown(need, msg("the requirement gives no limit"))
    if not read:
        if any(rise.outside for rise in rises):
            why = msg("the surroundings were never within their band")
        else:
            why = msg("there is no reading")
        return not_shown(need, why)
    course, worst = max(read, key=lambda pair: float(np.max(pair[1].rise_k)))
    at = int(np.argmax(worst.rise_k))
    rise_k = float(worst.rise_k[at])
    when_s = float(worst.t_s[at])
    margin = need.limit - rise_k
    text = msg(
        "the largest rise over ambient was {value} at {time}; the limit is {limit}",
        value=Amount(rise_k, "K"),
        time=Amount(when_s, "s"),
        limit=Amount(need.limit, "K"),
    )
    what = msg("largest rise: {value}", value=Amount(rise_k, "K"))
    pointers = [Pointer(course.header.soak_id, when_s, when_s, what)]
    detail = {"outside_band_s": round(total_s(worst.outside), 3)}
    if margin >= 0 and not any(cover.enough for cover in covered) and worst.outside:
        why = msg(
            "{why}; time with the surroundings outside their band counts as blind",
            why=covered[-1].why,
        )
        value = Value(rise_k, margin=margin)
        return not_shown(need, why, value, pointers=pointers, detail=detail, covered=covered)
    if not need.guarded:
        value = Value(rise_k, margin=margin, method=joined("; ", [_METHOD, SIMPLE]))
        return settle(
            need,
            margin >= 0,
            sentence(text),
            found=value,
            covered=covered,
            pointers=pointers,
            detail=detail,
        )
    known = _accuracy(need, terms, course)
    return guarded(
        need,
        rise_k,
        margin,
        accuracy=known,
        told=text,
        covered=covered,
        pointers=pointers,
        detail=detail,
    )


_METHOD = msg("Largest difference")


def _accuracy(need: Requirement, terms: RiseTerms, course: Course) -> float | None:
    """Return the sum of both accuracies: the worst case, nothing assumed of their errors."""
    both = [accuracy_of(course, name) for name in (need.quantity, terms.ambient)]
    known = [rise_k for rise_k in both if rise_k is not None]
    return sum(known) if len(known) == 2 else None


def _beyond(need: Requirement, terms: RiseTerms, course: Course) -> Sequence[UnitFault]:
    """Return when the rise was first beyond the limit."""
    if need.limit is None:
        return []
    rise = _rise_in(need, terms, course)
    beyond = np.flatnonzero(rise.rise_k > need.limit)
    if not len(beyond):
        return []
    when_s = float(rise.t_s[beyond[0]])
    text = msg(
        "{quantity} rose over ambient by {value}, limit {limit}",
        quantity=need.quantity,
        value=Amount(float(rise.rise_k[beyond[0]]), need.unit),
        limit=Amount(need.limit, need.unit),
    )
    return [UnitFault(when_s, when_s, "beyond limit", text=text, source=need.quantity)]


def _demands(need: Requirement, terms: RiseTerms) -> Message:
    return msg(
        "{spot} rises at most {limit} over ambient",
        spot=begin(terms.spot or need.quantity),
        limit=Stated(need.limit or 0.0, "K"),
    )


def _wants(terms: RiseTerms, course: Course) -> Message:
    if not terms.ambient:
        return msg("no probe at ambient was wired")
    return no_probe(terms.ambient, course)


RISE_AT_MOST = Rule(
    name="rise at most",
    terms=RiseTerms,
    judge=_judge,
    demands=_demands,
    reads=Reads(bound_words=accuracy),
    lacks=lacks.time,
    section=Section.HEAT,
    bounds=Bounds.ACCURACY,
    unit="K",
    beyond=_beyond,
    wants=_wants,
    anywhere=True,
)
