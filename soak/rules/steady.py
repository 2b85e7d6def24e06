"""Whether a temperature had settled by the end."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from soak.derive.course import Course
from soak.derive.coverage import Coverage, coverage
from soak.derive.seen import Trace, trace
from soak.derive.spans import Span, common, touching
from soak.evidence import Floats
from soak.measure.heating import Fit, TooEarly, predict_end
from soak.quantities import show_duration, show_value
from soak.records import Requirement
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer

_STEP_S = 60.0
"""Windows are slid in steps of one minute."""

NO_SLOWER = 0.97
"""A first-order rise falls off by more than 3 % from one half-hour to the next unless its time
constant exceeds 16 h (1800 s over the logarithm of 1/0.97). Our own choice."""

_METHOD = (
    "Largest less smallest value within the last window with power on, one value a minute "
    "(IEC 62368-1 B.1.6, not checked against its own text: at most 3 K in 30 min)"
)


@dataclass(frozen=True, slots=True)
class Settling:
    """How much a quantity still moved.

    Attributes
    ----------
    first : (float, float) or None
        First window within which it moved no more than allowed.
    last : (float, float)
        The last window.
    moved : float
        Range within the last window.
    rose : float
        Change from begin to end of the last window.
    rose_before : float or None
        The same in the window before it; None if there is none.
    """

    first: Span | None
    last: Span
    moved: float
    rose: float
    rose_before: float | None


def settling(
    t_s: Floats, value: Floats, within: float, window_s: float, step_s: float = _STEP_S
) -> Settling | None:
    """Return how a quantity settled; None if the readings span less than one window.

    Parameters
    ----------
    t_s, value : ndarray
        Readings of one unbroken run, shape (n,), in order of time.
    within : float
        Largest range within a window that counts as steady.
    """
    if len(t_s) < 2 or t_s[-1] - t_s[0] < window_s:
        return None
    steps = max(round(window_s / step_s), 1)
    # Counted back from the end, so that the last window ends with the last reading.
    grid = t_s[-1] - np.arange(int((t_s[-1] - t_s[0]) / step_s + 1e-9), -1, -1) * step_s
    values = np.interp(grid, t_s, value)
    if len(grid) <= steps:
        return None
    windows = sliding_window_view(values, steps + 1)
    ranges = np.ptp(windows, axis=1)
    steady = np.flatnonzero(ranges <= within)
    first = None if not len(steady) else (float(grid[steady[0]]), float(grid[steady[0] + steps]))
    before = values[-1 - steps] - values[-1 - 2 * steps] if len(values) > 2 * steps else None
    return Settling(
        first,
        (float(grid[-1 - steps]), float(grid[-1])),
        float(ranges[-1]),
        float(values[-1] - values[-1 - steps]),
        None if before is None else float(before),
    )


@rule("steady")
def steady(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that a quantity moved no more than `within_k` in the last `window_s` with power on.

    One that has not settled yet is not shown: run longer. One that still climbs as fast as in the
    window before is not going to settle, and that is not met. With `or_predicted_k` one whose end
    can be foretold to so many K by its curve counts as settled too.
    """
    within_k = float(requirement.params.get("within_k", requirement.limit or 3.0))
    window_s = float(requirement.params.get("window_s", 1800.0))
    traces = [trace(course, requirement) for course in soaks]
    pairs = list(zip(soaks, traces, strict=True))
    covered = [coverage(course, requirement, one.unseen) for course, one in pairs]
    for (course, one), own in zip(reversed(pairs), reversed(covered), strict=True):
        run = _last_run(requirement, course, one, window_s)
        found = None if run is None else _settling_in(one, run, within_k, window_s)
        if run is not None and found is not None:
            return _conclude(requirement, course, found, within_k, own, _end(requirement, one, run))
    why = f"there is no unbroken run of {show_duration(window_s)} with power on"
    return not_shown(requirement, covered[-1].why or why)


def _last_run(requirement: Requirement, course: Course, one: Trace, window_s: float) -> Span | None:
    """Return the last span with power within one session that is long enough and without a hole."""
    powered = common(course.windows(requirement.stretch), course.power)
    # Short holes are bridged in a straight line; one longer than a step would hide what happened.
    broken = [hole for hole in one.unseen if hole[1] - hole[0] > _STEP_S]
    runs = [run for run in powered if run[1] - run[0] >= window_s]
    for begin_s, end_s in reversed(runs):
        if touching(end_s - window_s, end_s, broken) is None:
            return begin_s, end_s
    return None


def _settling_in(one: Trace, run: Span, within_k: float, window_s: float) -> Settling | None:
    here = (one.t_s >= run[0]) & (one.t_s <= run[1])
    return settling(one.t_s[here], one.value[here], within_k, window_s)


def _end(requirement: Requirement, one: Trace, run: Span) -> Fit | TooEarly | None:
    """Foretell the end of a run where the requirement lets that count; else None."""
    within_k = requirement.params.get("or_predicted_k")
    if within_k is None:
        return None
    here = (one.t_s >= run[0]) & (one.t_s <= run[1])
    return predict_end(one.t_s[here], one.value[here], float(within_k))


def _conclude(
    requirement: Requirement,
    course: Course,
    found: Settling,
    within_k: float,
    own: Coverage,
    end: Fit | TooEarly | None,
) -> Finding:
    moved = show_value(found.moved, "K")
    window = show_duration(found.last[1] - found.last[0])
    because = f"In the last {window} it moved {moved}; {show_value(within_k, 'K')} count as steady."
    pointers = [Pointer(course.header.soak_id, *found.last, "last window")]
    value = Value(found.moved, margin=within_k - found.moved, method=_METHOD)
    detail: dict[str, object] = {
        "steady_from_s": found.first[0] if found.first else None,
        "rose_k": found.rose,
    }
    if isinstance(end, Fit):
        detail |= {
            "end_degc": end.end,
            "end_bound_low_degc": end.bound_low,
            "end_bound_high_degc": end.bound_high,
        }
        detail |= {"tau_s": [term.tau_s for term in end.terms], "residual_rms_k": end.rms}
    if found.moved <= within_k:
        return settle(requirement, True, because, value, [own], pointers, detail)
    if isinstance(end, Fit):
        half = show_value((end.bound_high - end.bound_low) / 2, "K")
        because += f" Its curve ends at {show_value(end.end, 'degC')}, give or take {half}."
        return settle(requirement, True, because, value, [own], pointers, detail)
    before = found.rose_before
    if before is not None and before > within_k and found.rose >= NO_SLOWER * before:
        because += " It climbs no slower than in the window before."
        return settle(requirement, False, because, value, [own], pointers, detail)
    longer = f", and {end.why}" if isinstance(end, TooEarly) else "; run longer"
    why = f"in the last {window} it still moved {moved}{longer}"
    return not_shown(requirement, why, value, pointers, detail)
