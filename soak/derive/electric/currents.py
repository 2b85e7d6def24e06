"""What a unit drew: at work, doing nothing, starting, in standby and off, where a probe tells."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soak.derive.course import Course
from soak.derive.spans import Span, inside, minus
from soak.evidence import Floats
from soak.marks import WorkingState, fact_as
from soak.statistics.trend import mann_kendall, theil_sen

_SETTLES_S = 2.0
"""So long after a change of state nothing is counted: meters average. Our own choice."""

BLOCK_S = 300.0
"""A trend is taken over medians of blocks so long: neighbouring readings are not independent, as
the test asks. Our own choice."""

FEWEST_BLOCKS = 8
"""Fewer show no trend. Our own choice."""

SURE_AT, SURE_BY = 0.01, 0.02
"""It grows if luck does that once in a hundred, and by a fiftieth an hour. Our own choice."""


@dataclass(frozen=True, slots=True)
class Creep:
    """How the current at work changed over a soak.

    Attributes
    ----------
    per_h, bound_low, bound_high : float
        Median slope with its bounds, in the probe's unit an hour.
    s, chance : float
        Mann-Kendall's S and the two-sided chance of it without a trend.
    blocks : int
        Medians of how many blocks.
    sure : bool
        Whether it is more than luck and worth a word.
    """

    per_h: float
    bound_low: float
    bound_high: float
    s: int
    chance: float
    blocks: int
    sure: bool


@dataclass(frozen=True, slots=True)
class Drawn:
    """Readings of a supply in one state of the unit.

    Attributes
    ----------
    quantity, unit : str
        Which probe, `A` or `W`.
    state : str
        `"running"` (started), `"idle"` (left alone by the operator), `"starting"`, `"standby"`
        (powered and pressed off) or `"off"` (the switch is off).
    median, percentile_5, percentile_95 : float
        Median, 5 % and 95 % quantile.
    readings : int
        How many.
    creep : Creep or None
        Its trend, of the state `running`.
    """

    quantity: str
    unit: str
    state: str
    median: float
    percentile_5: float
    percentile_95: float
    readings: int
    creep: Creep | None = None


def currents(course: Course) -> list[Drawn]:
    """Return what each probe of current or power read in each state of the unit."""
    wired = course.header.fixture.probes
    idle = working_spans(course, "idle")
    spans = {
        "running": minus(course.started, _told(course, "idle")),
        "idle": idle,
        "starting": minus(course.awake, course.started),
        "standby": minus(course.power, course.awake),
        "off": minus(course.session_spans, course.power),
    }
    return [
        drawn
        for name, entry in wired.items()
        if entry.unit in ("A", "W")
        for state, windows in spans.items()
        if (drawn := _drawn(course, f"probe.{name}", entry.unit, state=state, windows=windows))
        is not None
    ]


def working_spans(course: Course, working: str, stretch: str = "") -> list[Span]:
    """Return when the unit was in a working state that a check took it into, s of soak time.

    A working state in which the power was cut is left out: on again, the unit is in another one.
    """
    spans = _told(course, working, stretch)
    return [
        sample
        for sample in spans
        if any(on <= sample[0] and sample[1] <= off for on, off in course.power)
    ]


def _told(course: Course, working: str, stretch: str = "") -> list[Span]:
    return [
        (fact_as(mark, WorkingState).from_s, mark.t_s)
        for mark in course.marks(WorkingState.mark)
        if fact_as(mark, WorkingState).working_state == working and stretch in ("", mark.stretch)
    ]


def creep_of(course: Course, quantity: str, confidence: float = 0.95) -> Creep | None:
    """Return how the current at work changed; None if it was read too short a time.

    References
    ----------
    Mann-Kendall test and Theil-Sen slope as in `trend`, over medians of blocks.
    """
    t_s, value = course.series(quantity)
    at_work = _calm(minus(course.started, _told(course, "idle")))
    here = inside(t_s, at_work) & ~inside(t_s, course.blind(quantity))
    when_h, medians = _blocks(t_s[here], value[here])
    if len(medians) < FEWEST_BLOCKS:
        return None
    trend = mann_kendall(medians)
    slope = theil_sen(when_h, medians, confidence)
    middle = float(np.median(medians))
    sure = trend.chance <= SURE_AT and abs(slope.slope) > SURE_BY * abs(middle)
    return Creep(
        per_h=slope.slope,
        bound_low=slope.bound_low,
        bound_high=slope.bound_high,
        s=trend.s,
        chance=trend.chance,
        blocks=len(medians),
        sure=sure,
    )


def _blocks(t_s: Floats, value: Floats) -> tuple[list[float], list[float]]:
    number = np.floor_divide(t_s, BLOCK_S)
    chosen = [number == group for group in np.unique(number)]
    when_h = [float(np.median(t_s[group])) / 3600 for group in chosen]
    return when_h, [float(np.median(value[group])) for group in chosen]


def _calm(windows: Sequence[Span]) -> list[Span]:
    return [(a + _SETTLES_S, b) for a, b in windows if b - a > _SETTLES_S]


def _drawn(
    course: Course, quantity: str, unit: str, state: str, windows: Sequence[Span]
) -> Drawn | None:
    t_s, value = course.series(quantity)
    here = value[inside(t_s, _calm(windows)) & ~inside(t_s, course.blind(quantity))]
    if not len(here):
        return None
    low, median, high = (float(quantile) for quantile in np.quantile(here, (0.05, 0.5, 0.95)))
    creep = creep_of(course, quantity) if state == "running" else None
    return Drawn(
        quantity,
        unit,
        state,
        median=median,
        percentile_5=low,
        percentile_95=high,
        readings=len(here),
        creep=creep,
    )
