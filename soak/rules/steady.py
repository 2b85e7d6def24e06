"""Whether a temperature had settled by the end."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from soak.derive.course import Course
from soak.derive.heat import foretold, heat_at
from soak.derive.seeing.coverage import Coverage, coverage
from soak.derive.seen import Trace, trace
from soak.derive.spans import Span, common, touching
from soak.evidence import Floats
from soak.measure.heating import Fit, TooEarly
from soak.records import Json, Requirement
from soak.rules.core import lacks
from soak.rules.core.allowed import Decided
from soak.rules.core.finding import Value, not_shown, settle
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer
from soak.terms import SpotTerms, terms
from soak.words import Amount, Message, Stated, begin, msg, paragraph

_STEP_S = 60.0
"""Windows are slid in steps of one minute. Our own choice."""

NO_SLOWER = 0.97
"""A first-order rise falls off by more than 3 % from one half-hour to the next unless its time
constant exceeds 16 h (1800 s over the logarithm of 1/0.97). Our own choice."""

_METHOD = msg(
    "Largest less smallest value within the last window with power on, one value a minute "
    "(IEC 62368-1 B.1.6, not checked against its own text: at most 3 K in 30 min)"
)


@terms
class SteadyTerms(SpotTerms):
    """What counts as steady.

    Attributes
    ----------
    within_k : float or None
        Largest change, K; None: the limit.
    window_s : float
        In so long, s.
    or_predicted_k : float or None
        An end that can be foretold to so many K counts as steady, too; None: it does not.
    """

    within_k: float | None = None
    window_s: float = 1800.0
    or_predicted_k: float | None = None


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


def settling(t_s: Floats, value: Floats, within: float, window_s: float) -> Settling | None:
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
    steps = max(round(window_s / _STEP_S), 1)
    # Counted back from the end, so that the last window ends with the last reading.
    grid = t_s[-1] - np.arange(int((t_s[-1] - t_s[0]) / _STEP_S + 1e-9), -1, -1) * _STEP_S
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
        rose=float(values[-1] - values[-1 - steps]),
        rose_before=None if before is None else float(before),
    )


def _judge(need: Requirement, terms: SteadyTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that a quantity moved no more than `within_k` in the last `window_s` with power on.

    One that has not settled yet is not shown: run longer. One that still climbs as fast as in the
    window before is not going to settle, and that is not met. With `or_predicted_k` one whose end
    can be foretold to so many K by its curve counts as settled too.
    """
    traces = [trace(course, need) for course in soaks]
    pairs = list(zip(soaks, traces, strict=True))
    covered = [coverage(course, need, one.unseen) for course, one in pairs]
    for (course, one), own in zip(reversed(pairs), reversed(covered), strict=True):
        run = _last_run(need, course, one, terms.window_s)
        settled = None if run is None else _settling_in(one, run, _within_k(need, terms), terms)
        if run is not None and settled is not None:
            end = _end(need, terms, course, run)
            return _conclude(need, course, settled, terms=terms, own=own, end=end)
    why = msg("there is no unbroken run of {time} with power on", time=Amount(terms.window_s, "s"))
    return not_shown(need, covered[-1].why or why)


def _within_k(need: Requirement, terms: SteadyTerms) -> float:
    return need.limit or 3.0 if terms.within_k is None else terms.within_k


def _last_run(need: Requirement, course: Course, one: Trace, window_s: float) -> Span | None:
    """Return the last span with power within one session that is long enough and without a hole."""
    powered = common(course.windows(need.stretch), course.power)
    # Short holes are bridged in a straight line; one longer than a step would hide what happened.
    broken = [hole for hole in one.unseen if hole[1] - hole[0] > _STEP_S]
    runs = [run for run in powered if run[1] - run[0] >= window_s]
    for begin_s, end_s in reversed(runs):
        if touching(end_s - window_s, end_s, broken) is None:
            return begin_s, end_s
    return None


def _settling_in(one: Trace, run: Span, within_k: float, terms: SteadyTerms) -> Settling | None:
    here = (one.t_s >= run[0]) & (one.t_s <= run[1])
    return settling(one.t_s[here], one.value[here], within_k, terms.window_s)


def _end(need: Requirement, terms: SteadyTerms, course: Course, run: Span) -> Fit | TooEarly | None:
    """Foretell the end of a run where the requirement lets that count; else None."""
    if terms.or_predicted_k is None:
        return None
    return foretold(heat_at(course, need.quantity), run, terms.or_predicted_k)


def _conclude(
    need: Requirement,
    course: Course,
    found: Settling,
    terms: SteadyTerms,
    own: Coverage,
    end: Fit | TooEarly | None,
) -> Finding:
    window = Amount(found.last[1] - found.last[0], "s")
    within_k = _within_k(need, terms)
    because = msg(
        "In the last {window} it moved {moved}; {within} count as steady.",
        window=window,
        moved=Amount(found.moved, "K"),
        within=Amount(within_k, "K"),
    )
    pointers = [Pointer(course.header.soak_id, *found.last, msg("last window"))]
    margin = within_k - found.moved
    if margin < 0 and isinstance(end, Fit) and terms.or_predicted_k is not None:
        margin = terms.or_predicted_k - _half(end)
    value = Value(found.moved, margin=margin, method=_METHOD)
    detail = _figures(found, end)
    if found.moved <= within_k:
        return settle(
            need, True, because, found=value, covered=[own], pointers=pointers, detail=detail
        )
    if isinstance(end, Fit):
        because = paragraph(because, _foretold(end))
        return settle(
            need, True, because, found=value, covered=[own], pointers=pointers, detail=detail
        )
    before = found.rose_before
    if before is not None and before > within_k and found.rose >= NO_SLOWER * before:
        because = paragraph(because, msg("It climbs no slower than in the window before."))
        return settle(
            need, False, because, found=value, covered=[own], pointers=pointers, detail=detail
        )
    return not_shown(
        need, _still(found.moved, window, end), value, pointers=pointers, detail=detail
    )


def _figures(found: Settling, end: Fit | TooEarly | None) -> Json:
    detail: dict[str, object] = {
        "steady_from_s": found.first[0] if found.first else None,
        "rose_k": found.rose,
    }
    if isinstance(end, Fit):
        detail |= {
            "end_degc": end.end,
            "end_bound_low_degc": end.bound_low,
            "end_bound_high_degc": end.bound_high,
            "tau_s": [term.tau_s for term in end.terms],
            "residual_rms_k": end.rms,
        }
    return detail


def _half(end: Fit) -> float:
    return (end.bound_high - end.bound_low) / 2


def _foretold(end: Fit) -> Message:
    return msg(
        "Its curve ends at {end}, give or take {half}.",
        end=Amount(end.end, "degC"),
        half=Amount(_half(end), "K"),
    )


def _still(moved_k: float, window: Amount, end: Fit | TooEarly | None) -> Message:
    moved = Amount(moved_k, "K")
    if isinstance(end, TooEarly):
        return msg(
            "in the last {window} it still moved {moved}, and {why}",
            window=window,
            moved=moved,
            why=end.why,
        )
    return msg(
        "in the last {window} it still moved {moved}; run longer", window=window, moved=moved
    )


def _demands(need: Requirement, terms: SteadyTerms) -> Message:
    spot = begin(terms.spot or need.quantity)
    change = Stated(_within_k(need, terms), "K")
    time = Amount(terms.window_s, "s")
    if terms.or_predicted_k is None:
        return msg(
            "{spot} became steady (within {change} in {time})", spot=spot, change=change, time=time
        )
    return msg(
        "{spot} became steady (within {change} in {time}, or its end foretold to {nearly})",
        spot=spot,
        change=change,
        time=time,
        nearly=Stated(terms.or_predicted_k, "K"),
    )


STEADY = Rule(
    name="steady",
    terms=SteadyTerms,
    judge=_judge,
    demands=_demands,
    reads=Decided(decides=_within_k),
    lacks=lacks.unbroken,
    section=Section.HEAT,
    bounds=Bounds.NONE,
    unit="K",
    shortest_s=lambda need, terms: terms.window_s,
)
