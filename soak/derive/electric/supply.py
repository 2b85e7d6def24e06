"""Whether the supply was there: a unit without it has not failed."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from soak.derive.seeing.holes import EVERYTHING, Hole
from soak.derive.spans import Span, inside, runs
from soak.evidence import Floats
from soak.frozen.wiring import ProbeWired
from soak.marks import ShortBreak, SupplyTrial
from soak.words import NOTHING_SAID, Amount, Message, msg

SETTLING_S = 2.0
"""Readings so shortly after the power came or before it went say nothing about the supply. Our own
choice."""

DEAD_V = 0.5
"""A supply that never reads more than this while on was never there. Our own choice."""


def is_supply(name: str, wired: ProbeWired) -> bool:
    """Tell whether a probe measures the voltage that the unit is fed with."""
    place = f"{name} {wired.spot}"
    if wired.at_port:
        return False  # what the unit gives, not what it is fed with
    return wired.unit == "V" and any(word in place for word in ("supply", "inlet"))


def not_as_set(told: SupplyTrial | ShortBreak, within_v: float) -> Message:
    """Say that the supply gave another voltage than it was set to; empty if it was read to do so.

    Parameters
    ----------
    told : SupplyTrial or ShortBreak
        What it was set to, and what was read.
    within_v : float
        Half-width of the supply's error, V.
    """
    reads_v = [told.read_v]
    if isinstance(told, SupplyTrial):
        reads_v = [told.read_least_v, told.read_most_v, told.read_v, told.read_end_v]
    asked_v = told.set_v or 0.0
    for read_v in reads_v:
        if read_v is not None and abs(read_v - asked_v) > within_v + 1e-9:
            return msg(
                "the supply gave {read} where {asked} was set",
                read=Amount(read_v, "V"),
                asked=Amount(asked_v, "V"),
            )
    return NOTHING_SAID


def gone(
    source: str, t_s: Floats, value: Floats, powered: Sequence[Span], starts_within_s: float
) -> list[Hole]:
    """Return when a voltage probe read less than half its usual value while the power was on.

    A relay that no longer closes and an adapter that gives up look like a dead unit to every
    other instrument.

    Parameters
    ----------
    t_s, value : ndarray
        Readings of the probe in V, shape (n,), in order of time.
    powered : sequence of (float, float)
        When the switch says that the power was on.
    starts_within_s : float
        A unit whose supply came back shows a picture within so long, s.
    """
    on = inside(t_s, [(b + SETTLING_S, e - SETTLING_S) for b, e in powered])
    if not on.any():
        return []
    # Most readings may be of a dead supply: those that are alive say what is usual.
    alive = on & (value > DEAD_V)
    usual = float(np.median(value[alive])) if alive.any() else 0.0
    low = on & ((value < usual / 2) | (value <= DEAD_V))
    why = msg("{probe}: the supply was gone", probe=source)
    return [
        Hole(begin_s, end_s, EVERYTHING, why, after_s=starts_within_s, unit_too=True)
        for begin_s, end_s in spread(t_s, low)
    ]


def spread(t_s: Floats, low: NDArray[np.bool_]) -> list[Span]:
    """Return the runs of low readings, each from the last good reading before to the next."""
    begins = np.concatenate((t_s[:1], t_s[:-1]))
    before = {float(now): float(then) for now, then in zip(t_s[low], begins[low], strict=True)}
    return [(before[begin_s], end_s) for begin_s, end_s in runs(t_s, low)]
