"""Whether the unit heats up no further over its surroundings than it may."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soak.derive.course import Course
from soak.derive.coverage import coverage
from soak.derive.seen import trace
from soak.derive.spans import Span, inside, merged, runs
from soak.evidence import Floats
from soak.quantities import show_duration, show_value
from soak.records import Requirement
from soak.rules.core.bands import SIMPLE, accuracy_of, guarded
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer


@dataclass(frozen=True, slots=True)
class _Rise:
    """Rise over ambient in K, ambient within its band; when it was not seen or outside."""

    t_s: Floats
    rise_k: Floats
    unseen: Sequence[Span]
    outside: Sequence[Span]


def rise_over_ambient(requirement: Requirement, course: Course) -> _Rise:
    """Return the rise in K, ambient taken in a straight line between its readings."""
    probe = trace(course, requirement)
    ambient = trace(course, requirement, str(requirement.params.get("ambient", "probe.ambient")))
    unseen = merged([*probe.unseen, *ambient.unseen])
    if not len(probe.t_s) or not len(ambient.t_s):
        empty = np.empty(0)
        return _Rise(empty, empty, unseen, ())
    around = np.interp(probe.t_s, ambient.t_s, ambient.value)
    low = float(requirement.params.get("ambient_low_degc", 15.0))
    high = float(requirement.params.get("ambient_high_degc", 30.0))
    in_band = (around >= low) & (around <= high)
    counts = in_band & ~inside(probe.t_s, unseen)
    outside = runs(probe.t_s, ~in_band)
    rise_k = np.subtract(probe.value, around, out=around)
    if counts.all():
        return _Rise(probe.t_s, rise_k, unseen, outside)
    return _Rise(probe.t_s[counts], rise_k[counts], unseen, outside)


@rule("rise at most")
def rise_at_most(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that a spot is never more than `limit` K warmer than its surroundings."""
    rises = [rise_over_ambient(requirement, course) for course in soaks]
    pairs = list(zip(soaks, rises, strict=True))
    covered = [
        coverage(course, requirement, merged([*one.unseen, *one.outside])) for course, one in pairs
    ]
    read = [(course, one) for course, one in pairs if len(one.rise_k)]
    if requirement.limit is None:
        return not_shown(requirement, "the requirement gives no limit")
    if not read:
        outside = any(one.outside for one in rises)
        why = "the surroundings were never within their band" if outside else "there is no reading"
        return not_shown(requirement, why)
    course, worst = max(read, key=lambda pair: float(np.max(pair[1].rise_k)))
    at = int(np.argmax(worst.rise_k))
    rise_k, when_s = float(worst.rise_k[at]), float(worst.t_s[at])
    shown = show_value(rise_k, "K")
    margin = requirement.limit - rise_k
    because = (
        f"The largest rise over ambient was {shown} at {show_duration(when_s)}; "
        f"the limit is {show_value(requirement.limit, 'K')}."
    )
    pointers = [Pointer(course.header.soak_id, when_s, when_s, f"largest rise: {shown}")]
    detail = {"outside_band_s": round(sum(b - a for a, b in worst.outside), 3)}
    if margin >= 0 and not any(one.enough for one in covered) and worst.outside:
        why = f"{covered[-1].why}; time with the surroundings outside their band counts as blind"
        return not_shown(requirement, why, Value(rise_k, margin=margin), pointers, detail)
    if not requirement.guarded:
        found = Value(rise_k, margin=margin, method=f"Largest difference; {SIMPLE}")
        return settle(requirement, margin >= 0, because, found, covered, pointers, detail)
    accuracy = _accuracy(requirement, course)
    return guarded(requirement, rise_k, margin, accuracy, because, covered, pointers, detail)


def _accuracy(requirement: Requirement, course: Course) -> float | None:
    """Return the sum of both accuracies: the worst case, nothing assumed of their errors."""
    ambient = str(requirement.params.get("ambient", "probe.ambient"))
    both = [accuracy_of(course, name) for name in (requirement.quantity, ambient)]
    known = [accuracy for accuracy in both if accuracy is not None]
    return sum(known) if len(known) == 2 else None
