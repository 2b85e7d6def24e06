"""Whether a spot warms like that of known-good units, frozen into the header at the start."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.derive.heat import End, last_end
from soak.derive.heat_reference import drawn_a
from soak.measure.heating import TooEarly
from soak.quantities import show_value
from soak.records import Requirement
from soak.rules.core.finding import Value, counted, not_shown, settle
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer

ENOUGH = 5
"""From so many references on their own spread decides what is unusual."""

UNUSUAL_Z = 3.5
"""A modified z-score beyond it is an outlier (Iglewicz & Hoaglin)."""

OTHER_CURRENT = 0.15
"""A unit that draws so much more or less is not in the same power state. Our own choice."""

_FEW = "Difference from the median of the references, each rise at the end of a run with power"
_MANY = (
    "Modified z-score 0.6745 (x - median) / MAD: Iglewicz & Hoaglin 1993, How to Detect and Handle "
    "Outliers; NIST/SEMATECH e-Handbook 1.3.5.17"
)


@rule("like the reference")
def like_the_reference(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that a spot's rise in the end is at most `limit` K above that of known-good units.

    From five references on it must also be unusual by their spread. A spot that stays cooler is
    not shown: a probe came off, or the unit does less work than they did.
    """
    course = soaks[-1]
    name = requirement.quantity.removeprefix("probe.")
    spot = str(course.header.fixture.get("probe", {}).get(name, {}).get("spot", ""))
    references = [
        one
        for one in course.header.references.get("heat_reference") or ()
        if spot in one.get("rises_k", {})
    ]
    if not references:
        why = "no known-good unit was soaked with this spot (`soak run --as-reference`)"
        return not_shown(requirement, why)
    found = last_end(course, requirement.quantity)
    if isinstance(found, TooEarly):
        return not_shown(requirement, found.why)
    return _compared(
        requirement, course, found, [r["rises_k"][spot] for r in references], references
    )


def _compared(
    requirement: Requirement,
    course: Course,
    found: End,
    rises_k: Sequence[float],
    references: Sequence[Mapping[str, Any]],
) -> Finding:
    usual_k, allowed_k = float(np.median(rises_k)), requirement.limit or 3.0
    above_k = found.rise_k - usual_k
    z = modified_z(found.rise_k, rises_k) if len(rises_k) >= ENOUGH else None
    because = (
        f"Its rise of {show_value(found.rise_k, 'K')} ({found.how}) is "
        f"{show_value(abs(above_k), 'K')} {'above' if above_k >= 0 else 'below'} that of "
        f"{counted(len(rises_k), 'known-good unit')}; {show_value(allowed_k, 'K')} allowed"
    )
    because += f", z {z:.1f}." if z is not None else "."
    value = Value(
        above_k,
        found.bound_low_k - usual_k,
        found.bound_high_k - usual_k,
        allowed_k - above_k,
        _FEW if z is None else _MANY,
    )
    detail = {
        "rise_k": found.rise_k,
        "references": [one["soak_id"] for one in references],
        "z": z,
        "how": found.how,
    }
    pointers = [Pointer(course.header.soak_id, *found.run, "run with power")]
    other = _other_state(course, found, references)
    if other:
        return not_shown(requirement, other, value, pointers, detail)
    far = abs(above_k) > allowed_k and (z is None or abs(z) > UNUSUAL_Z)
    if far and above_k < 0:
        why = f"{because[:-1]}; is the probe still on, and does the unit do the same work?"
        return not_shown(requirement, why[0].lower() + why[1:], value, pointers, detail)
    covered = [coverage(course, requirement, course.blind(requirement.quantity))]
    return settle(requirement, not far, because, value, covered, pointers, detail)


def modified_z(value: float, others: Sequence[float]) -> float:
    """Return the modified z-score; infinite where all others are the same and this one is not."""
    middle = float(np.median(others))
    mad = float(np.median(np.abs(np.asarray(others) - middle)))
    if mad == 0:
        return 0.0 if value == middle else math.copysign(math.inf, value - middle)
    return 0.6745 * (value - middle) / mad


def _other_state(course: Course, found: End, references: Sequence[Mapping[str, Any]]) -> str:
    """Say why the unit was not in the power state of the references; empty if it was."""
    theirs = [one["drawn_a"] for one in references if one.get("drawn_a")]
    own = drawn_a(course, found.run)
    if not theirs or own is None:
        return ""
    usual = float(np.median(theirs))
    if abs(own - usual) <= OTHER_CURRENT * usual:
        return ""
    return (
        f"it drew {show_value(own, 'A')} where the known-good drew {show_value(usual, 'A')}; "
        "compare them at the same work"
    )
