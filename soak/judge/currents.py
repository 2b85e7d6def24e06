"""What a unit drew: running, starting and while it should be off, where a probe tells."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from soak.judge.derive import Course
from soak.judge.spans import Span, inside, minus

_SETTLES_S = 2.0
"""So long after a change of state nothing is counted: meters average."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """Readings of a supply in one state of the unit.

    Attributes
    ----------
    quantity, unit : str
        Which probe, `A` or `W`.
    state : str
        `"running"` (started; its 5 % quantile is the unit idle), `"starting"`, `"standby"`
        (commanded off).
    median, low, high : float
        Median, 5 % and 95 % quantile.
    readings : int
        How many.
    """

    quantity: str
    unit: str
    state: str
    median: float
    low: float
    high: float
    readings: int


def currents(course: Course) -> list[Drawn]:
    """Return what each probe of current or power read in each state of the unit."""
    wired = course.header.fixture.get("probe", {})
    spans = {
        "running": course.started,
        "starting": minus(course.power, course.started),
        "standby": minus(course.session_spans, course.power),
    }
    return [
        drawn
        for name, entry in wired.items()
        if entry["unit"] in ("A", "W")
        for state, windows in spans.items()
        if (drawn := _drawn(course, f"probe.{name}", entry["unit"], state, windows)) is not None
    ]


def _drawn(
    course: Course, quantity: str, unit: str, state: str, windows: Sequence[Span]
) -> Drawn | None:
    t_s, value = course.series(quantity)
    calm = [(a + _SETTLES_S, b) for a, b in windows if b - a > _SETTLES_S]
    here = value[inside(t_s, calm) & ~inside(t_s, course.blind(quantity))]
    if not len(here):
        return None
    low, median, high = (float(one) for one in np.quantile(here, (0.05, 0.5, 0.95)))
    return Drawn(quantity, unit, state, median, low, high, len(here))
