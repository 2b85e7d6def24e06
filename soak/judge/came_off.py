"""A probe that came off its spot: it reads the air, and nothing it says is the unit's heat."""

from collections.abc import Sequence

import numpy as np

from soak.journal.base import Floats
from soak.judge.holes import Hole
from soak.judge.spans import Span, inside

WITHIN_S = 180.0
"""A spot that cools so far within this time, its unit running, has lost its probe, s."""
LEFT_SHARE = 0.2
"""So much of its rise over the air, or less, is left of it then."""
LEAST_RISE_K = 8.0
"""A spot that was warmer by less than this cannot tell."""
BACK_SHARE = 0.7
"""From so much of the rise again on it sits on its spot again. All four are our own choice: a body
that lost four fifths of its rise in 3 min by itself would have a time constant below 2 min with its
power on, and a fan that starts to turn does not take it so far."""


def came_off(
    source: str, t_s: Floats, degc: Floats, air: tuple[Floats, Floats] | None, awake: Sequence[Span]
) -> list[Hole]:
    """Return when a probe did not sit on its spot.

    Parameters
    ----------
    t_s, degc : ndarray
        Readings of the probe, shape (n,), in order of time.
    air : (ndarray, ndarray) or None
        Times and readings of the probe at ambient; None: its own lowest reading stands for it.
    awake : sequence of (float, float)
        When the unit was running.
    """
    if len(t_s) < 2:
        return []
    base = np.full(len(t_s), degc.min()) if air is None else np.interp(t_s, *air)
    rise = degc - base
    found: list[Hole] = []
    for begins_s, ends_s in awake:
        here = np.flatnonzero(inside(t_s, [(begins_s, ends_s)]))
        if found and found[-1].to_s >= ends_s:
            continue
        later = np.searchsorted(t_s, t_s[here] + WITHIN_S, side="right") - 1
        fell = (later > here) & (t_s[later] <= ends_s) & (rise[here] >= LEAST_RISE_K)
        fell &= rise[later] <= LEFT_SHARE * rise[here]
        for at in here[fell]:
            if found and t_s[at] < found[-1].to_s:
                continue
            back = np.flatnonzero((t_s > t_s[at] + WITHIN_S) & (rise >= BACK_SHARE * rise[at]))
            to_s = float(t_s[back[0]]) if len(back) else float(t_s[-1])
            why = f"{source}: it came off its spot and read the air"
            found.append(Hole(float(t_s[at]), to_s, source, why))
    return found
