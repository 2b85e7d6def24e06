"""Whether a spot warms like that of known-good units, frozen into the header at the start."""

import math
from collections.abc import Sequence

import numpy as np

from soak.derive.course import Course
from soak.derive.heat import End, drawn_a, last_end
from soak.derive.seeing.coverage import coverage
from soak.frozen.references import HeatReference
from soak.measure.heating import TooEarly
from soak.records import Requirement
from soak.rules.core import lacks
from soak.rules.core.allowed import Decided
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.lacks import Lack
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer
from soak.statistics.compare import UNUSUAL_Z
from soak.terms import SpotTerms
from soak.words import (
    NOTHING_SAID,
    Amount,
    Message,
    Number,
    Stated,
    begin,
    counted,
    msg,
    sentence,
)

ENOUGH = 5
"""From so many references on their own spread decides what is unusual. Our own choice."""

ALLOWED_K = 3.0
"""So much above the median is allowed where a demand states nothing, K. Our own choice."""


OTHER_CURRENT = 0.15
"""A unit that draws so much more or less is not in the same power state. Our own choice."""

_FEW = msg("Difference from the median of the references, each rise at the end of a run with power")
_MANY = msg(
    "Modified z-score 0.6745 (x - median) / MAD: Iglewicz & Hoaglin 1993, How to Detect and Handle "
    "Outliers; NIST/SEMATECH e-Handbook 1.3.5.17"
)


def _judge(need: Requirement, terms: SpotTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that a spot's rise in the end is at most `limit` K above that of known-good units.

    From five references on only a rise that is unusual by their spread, too, is not met, and the
    margin is that to the wider of both. A spot that stays cooler is
    not shown: a probe came off, or the unit does less work than they did.
    """
    course = soaks[-1]
    name = need.quantity.removeprefix("probe.")
    probe = course.header.fixture.probes.get(name)
    spot = "" if probe is None else probe.spot
    references = [
        reference
        for reference in course.header.references.heat_reference
        if spot in reference.rises_k
    ]
    if not references:
        why = msg("no known-good unit was soaked with this spot (`soak run --as-reference`)")
        return not_shown(need, why)
    end = last_end(course, need.quantity)
    if isinstance(end, TooEarly):
        covered = [coverage(course, need, course.blind(need.quantity))]
        return not_shown(need, end.why, covered=covered)
    return _compared(
        need, course, end, rises_k=[r.rises_k[spot] for r in references], references=references
    )


def _compared(
    need: Requirement,
    course: Course,
    found: End,
    rises_k: Sequence[float],
    references: Sequence[HeatReference],
) -> Finding:
    usual_k = float(np.median(rises_k))
    allowed_k = _allowed_k(need)
    above_k = found.rise_k - usual_k
    z = modified_z(found.rise_k, rises_k) if len(rises_k) >= ENOUGH else None
    text = _with_spread(_told(found, above_k, len(rises_k), allowed_k), z)
    value = Value(
        above_k,
        found.bound_low_k - usual_k,
        found.bound_high_k - usual_k,
        margin=max(allowed_k, 0.0 if z is None else usual_spread_k(rises_k)) - above_k,
        method=_FEW if z is None else _MANY,
    )
    detail = {
        "rise_k": found.rise_k,
        "references": [reference.soak_id for reference in references],
        "z": z,
        "how": found.how,
    }
    pointers = [Pointer(course.header.soak_id, *found.run, msg("run with power"))]
    other = _other_state(course, found, references)
    if other:
        return not_shown(need, other, value, pointers=pointers, detail=detail)
    far = abs(above_k) > allowed_k and (z is None or abs(z) > UNUSUAL_Z)
    if far and above_k < 0:
        why = msg(
            "{told}; see that the probe is still on and that the unit does the same work", told=text
        )
        return not_shown(need, why, value, pointers=pointers, detail=detail)
    covered = [coverage(course, need, course.blind(need.quantity))]
    return settle(
        need,
        not far,
        sentence(text),
        found=value,
        covered=covered,
        pointers=pointers,
        detail=detail,
    )


def _allowed_k(need: Requirement) -> float:
    return need.limit or ALLOWED_K


def _told(found: End, above_k: float, number: int, allowed_k: float) -> Message:
    rise = Amount(found.rise_k, "K")
    how = HOW_ENDED[found.how]
    apart = Amount(abs(above_k), "K")
    allowed = Amount(allowed_k, "K")
    if above_k >= 0:
        return counted(
            number,
            "its rise of {rise} ({how}) is {apart} above that of 1 known-good unit; "
            "{allowed} allowed",
            "its rise of {rise} ({how}) is {apart} above that of {count} known-good units; "
            "{allowed} allowed",
            rise=rise,
            how=how,
            apart=apart,
            allowed=allowed,
        )
    return counted(
        number,
        "its rise of {rise} ({how}) is {apart} below that of 1 known-good unit; {allowed} allowed",
        "its rise of {rise} ({how}) is {apart} below that of {count} known-good units; "
        "{allowed} allowed",
        rise=rise,
        how=how,
        apart=apart,
        allowed=allowed,
    )


HOW_ENDED = {"predicted": msg("predicted"), "read": msg("read")}


def _with_spread(told: Message, z: float | None) -> Message:
    if z is None:
        return told
    if math.isinf(z):
        return msg("{told}, and most of them rose exactly alike", told=told)
    return msg("{told}, z {z}", told=told, z=Number(z, ".1f"))


def usual_spread_k(rises_k: Sequence[float]) -> float:
    """Return how far from the median a rise is not yet an outlier, K: `UNUSUAL_Z` in kelvin."""
    middle = float(np.median(rises_k))
    return UNUSUAL_Z * float(np.median(np.abs(np.asarray(rises_k) - middle))) / 0.6745


def modified_z(value: float, others: Sequence[float]) -> float:
    """Return the modified z-score; infinite where all others are the same and this one is not."""
    middle = float(np.median(others))
    mad = float(np.median(np.abs(np.asarray(others) - middle)))
    if mad == 0:
        return 0.0 if value == middle else math.copysign(math.inf, value - middle)
    return 0.6745 * (value - middle) / mad


def _other_state(course: Course, found: End, references: Sequence[HeatReference]) -> Message:
    """Say why the unit was not in the power state of the references; empty if it was."""
    theirs = [reference.drawn_a for reference in references if reference.drawn_a]
    own = drawn_a(course, found.run)
    if not theirs or own is None:
        return NOTHING_SAID
    usual = float(np.median(theirs))
    if abs(own - usual) <= OTHER_CURRENT * usual:
        return NOTHING_SAID
    return msg(
        "it drew {own} where the known-good drew {usual}; compare them at the same work",
        own=Amount(own, "A"),
        usual=Amount(usual, "A"),
    )


def _lacks(finding: Finding, terms: SpotTerms, lasts_s: float | None) -> Lack | None:
    """Say that its run with power has to be longer; no run makes up for a known-good unit."""
    return lacks.unbroken(finding, terms, lasts_s) if finding.covered else None


def _demands(need: Requirement, terms: SpotTerms) -> Message:
    return msg(
        "{spot} ends at most {limit} warmer than in known-good units, or by no more than is usual "
        "among them, if there are {enough} or more",
        spot=begin(terms.spot or need.quantity),
        limit=Stated(_allowed_k(need), "K"),
        enough=ENOUGH,
    )


LIKE_THE_REFERENCE = Rule(
    name="like the reference",
    terms=SpotTerms,
    judge=_judge,
    demands=_demands,
    reads=Decided(decides=lambda need, terms: _allowed_k(need)),
    lacks=_lacks,
    section=Section.HEAT,
    bounds=Bounds.OTHER,
    unit="K",
)
