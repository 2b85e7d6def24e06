"""Whether the supply was there: a unit without it has not failed."""

from collections.abc import Sequence

import numpy as np

from soak.journal.base import Floats
from soak.judge.holes import EVERYTHING, Hole
from soak.judge.spans import Span, inside
from soak.records import Json

SETTLING_S = 2.0
"""Readings so shortly after the power came or before it went say nothing about the supply."""

DEAD_V = 0.5
"""A supply that never reads more than this while on was never there."""


def is_supply(name: str, wired: Json) -> bool:
    """Tell whether a probe measures the voltage that the unit is fed with."""
    place = f"{name} {wired.get('spot', '')}"
    return wired.get("unit") == "V" and any(word in place for word in ("supply", "inlet"))


def gone(source: str, t_s: Floats, value: Floats, powered: Sequence[Span]) -> list[Hole]:
    """Return when a voltage probe read less than half its usual value while the power was on.

    A relay that no longer closes and an adapter that gives up look like a dead unit to every
    other instrument.

    Parameters
    ----------
    t_s, value : ndarray
        Readings of the probe in V, shape (n,), in order of time.
    powered : sequence of (float, float)
        When the switch says that the power was on.
    """
    on = inside(t_s, [(b + SETTLING_S, e - SETTLING_S) for b, e in powered])
    if not on.any():
        return []
    # Most readings may be of a dead supply: those that are alive say what is usual.
    alive = on & (value > DEAD_V)
    usual = float(np.median(value[alive])) if alive.any() else 0.0
    low = on & ((value < usual / 2) | (value <= DEAD_V))
    edges = np.flatnonzero(np.diff(np.concatenate(([0], low.astype(np.int8), [0]))))
    found = []
    for first, behind in zip(edges[::2], edges[1::2], strict=True):
        # The reading before was still good, the one behind is good again.
        begin_s = float(t_s[max(first - 1, 0)])
        end_s = float(t_s[min(behind, len(t_s) - 1)])
        found.append(Hole(begin_s, end_s, EVERYTHING, f"{source}: the supply was gone"))
    return found
