"""Whether the unit was heated and cooled often and far enough."""

from collections.abc import Sequence

import numpy as np

from soak.derive.course import Course
from soak.derive.heat import HeatCycle, heat_cycles, spots_of
from soak.derive.seeing.coverage import coverage
from soak.derive.spans import holds
from soak.records import Requirement
from soak.rules.core import lacks
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.lacks import Lack
from soak.rules.core.reads import Reads, Side
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer
from soak.terms import terms
from soak.words import Amount, Message, Number, Stated, counted, msg, sentence

_METHOD = msg(
    "Cool-downs with the warm-up after them; range, rate (10 % to 90 % of the rise) and number "
    "are what counts in temperature cycling (MIL-HDBK-340A, 9.5.3)"
)


@terms
class HeatCycleTerms:
    """By how much a spot must fall and rise, K."""

    range_k: float = 20.0


def _judge(need: Requirement, terms: HeatCycleTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that a spot fell and rose by `range_k` at least `limit` times.

    Too few are no fault of the unit: they are not shown.
    """
    findings = [
        _in_soak(need, terms, course) for course in soaks if spots_of(course.header.fixture)
    ]
    if not findings:
        return not_shown(need, msg("no probe sits at a spot of the unit"))
    return next((finding for finding in findings if (finding.margin or 0) >= 0), findings[0])


def _in_soak(need: Requirement, terms: HeatCycleTerms, course: Course) -> Finding:
    wanted = int(need.limit or 1)
    windows = course.windows(need.stretch)
    cycles = [
        heat_cycle
        for heat_cycle in heat_cycles(course, terms.range_k)
        if holds(heat_cycle.from_s, windows)
    ]
    ranges = [cycle.range_k for cycle in cycles]
    rates = [cycle.rate_k_per_min for cycle in cycles]
    value = Value(len(cycles), margin=len(cycles) - wanted, method=_METHOD)
    detail = {"ranges_k": ranges, "rates_k_per_min": rates}
    pointers = [_pointer(course, cycle) for cycle in cycles]
    text = _counted(len(cycles), terms.range_k)
    if len(cycles) < wanted:
        why = msg("{cycles} seen; {wanted} demanded", cycles=text, wanted=wanted)
        return not_shown(need, why, value, pointers=pointers, detail=detail)
    text = msg(
        "{cycles}; the smallest {smallest}, typically {rate} K/min",
        cycles=text,
        smallest=Amount(min(ranges), "K"),
        rate=Number(float(np.median(rates)), ".2g"),
    )
    covered = [coverage(course, need, ())]
    return settle(
        need, True, sentence(text), found=value, covered=covered, pointers=pointers, detail=detail
    )


def _counted(number: int, range_k: float) -> Message:
    least = Amount(range_k, "K")
    return counted(
        number,
        "1 heat cycle of at least {range}",
        "{count} heat cycles of at least {range}",
        none=msg("no heat cycles of at least {range}", range=least),
        range=least,
    )


def _pointer(course: Course, cycle: HeatCycle) -> Pointer:
    what = msg("{range} at {spot}", range=Amount(cycle.range_k, "K"), spot=cycle.spot)
    return Pointer(course.header.soak_id, cycle.from_s, cycle.to_s, what)


def _lacks(finding: Finding, terms: HeatCycleTerms, lasts_s: float | None) -> Lack | None:
    """Say what of the stretch was not seen; too few or too small ones no further time makes up."""
    return lacks.time(finding, terms, lasts_s) if finding.covered else None


def _demands(need: Requirement, terms: HeatCycleTerms) -> Message:
    return counted(
        need.limit or 1,
        "It was heated and cooled once by at least {range}",
        "It was heated and cooled {count} times by at least {range}",
        range=Stated(terms.range_k, "K"),
    )


HEAT_CYCLES = Rule(
    name="heat cycles",
    terms=HeatCycleTerms,
    judge=_judge,
    demands=_demands,
    reads=Reads(side=Side.AT_LEAST),
    lacks=_lacks,
    section=Section.HEAT,
    bounds=Bounds.NONE,
)
