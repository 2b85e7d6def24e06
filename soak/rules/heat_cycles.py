"""Whether the unit was heated and cooled often and far enough."""

from collections.abc import Sequence

import numpy as np

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.derive.heat import heat_cycles, spots_of
from soak.derive.spans import holds
from soak.quantities import show_value
from soak.records import Requirement
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer

_METHOD = (
    "Cool-downs with the warm-up after them; range, rate (10 % to 90 % of the rise) and number "
    "are what counts in temperature cycling (MIL-HDBK-340A, 9.5.3)"
)


@rule("heat cycles")
def enough_heat_cycles(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that a spot fell and rose by `range_k` at least `limit` times.

    Too few are no fault of the unit: they are not shown.
    """
    wanted = int(requirement.limit or 1)
    range_k = float(requirement.params.get("range_k", 20.0))
    best: Finding | None = None
    for course in soaks:
        if not spots_of(course.header.fixture):
            continue
        windows = course.windows(requirement.stretch)
        cycles = [one for one in heat_cycles(course, range_k) if holds(one.from_s, windows)]
        ranges, rates = (
            [one.range_k for one in cycles],
            [one.rate_k_per_min for one in cycles],
        )
        found = Value(len(cycles), margin=len(cycles) - wanted, method=_METHOD)
        several = "heat cycles" if len(cycles) != 1 else "heat cycle"
        told = f"{len(cycles) or 'no'} {several} of at least {show_value(range_k, 'K')}"
        detail = {"ranges_k": ranges, "rates_k_per_min": rates}
        pointers = [
            Pointer(
                course.header.soak_id, one.from_s, one.to_s, f"{one.range_k:.1f} K at {one.spot}"
            )
            for one in cycles
        ]
        if len(cycles) < wanted:
            best = best or not_shown(
                requirement, f"{told} seen; {wanted} demanded", found, pointers, detail
            )
            continue
        because = (
            f"{told}; the smallest {show_value(min(ranges), 'K')}, typically "
            f"{float(np.median(rates)):.2g} K/min."
        )
        covered = [coverage(course, requirement, ())]
        return settle(
            requirement, True, because[0].upper() + because[1:], found, covered, pointers, detail
        )
    return best or not_shown(requirement, "no probe sits at a spot of the unit")
