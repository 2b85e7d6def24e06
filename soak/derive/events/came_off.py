"""A probe that came off its spot: it reads the air, and nothing it says is the unit's heat."""

from collections.abc import Sequence

import numpy as np

from soak.derive.seeing.holes import Hole
from soak.derive.spans import Span, inside
from soak.evidence import Floats
from soak.words import msg

WITHIN_S = 180.0
"""A spot that cools so far within this time, its unit running, has lost its probe, s. Our own
choice."""
LEFT_SHARE = 0.2
"""So much of its rise over the air, or less, is left of it then. Our own choice."""
LEAST_RISE_K = 8.0
"""A spot that was warmer by less than this cannot tell. Our own choice."""
BACK_SHARE = 0.7
"""From so much of the rise again on it sits on its spot again. All four are our own choice: a body
that lost four fifths of its rise in 3 min by itself would have a time constant below 2 min with its
power on, and a fan that starts to turn does not take it so far."""


LONG_S = 900.0
"""With its power on for so long a spot that once warmed must warm again. Our own choice."""


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
    return [*_fell(source, t_s, rise, awake), *_stayed_cold(source, t_s, rise, awake)]


def _fell(source: str, t_s: Floats, rise: Floats, awake: Sequence[Span]) -> list[Hole]:
    """Return where a spot cooled while its unit ran."""
    holes: list[Hole] = []
    for begins_s, ends_s in awake:
        here = np.flatnonzero(inside(t_s, [(begins_s, ends_s)]))
        if holes and holes[-1].to_s >= ends_s:
            continue
        later = np.searchsorted(t_s, t_s[here] + WITHIN_S, side="right") - 1
        fell = (later > here) & (t_s[later] <= ends_s) & (rise[here] >= LEAST_RISE_K)
        fell &= rise[later] <= LEFT_SHARE * rise[here]
        for at in here[fell]:
            if holes and t_s[at] < holes[-1].to_s:
                continue
            back = np.flatnonzero((t_s > t_s[at] + WITHIN_S) & (rise >= BACK_SHARE * rise[at]))
            to_s = float(t_s[back[0]]) if len(back) else float(t_s[-1])
            holes.append(_hole(source, float(t_s[at]), to_s))
    return holes


def _stayed_cold(source: str, t_s: Floats, rise: Floats, awake: Sequence[Span]) -> list[Hole]:
    """Return the long runs in which a spot that warms in others did not: it came off between."""
    runs = [span for span in awake if span[1] - span[0] >= LONG_S]
    peaks = [rise[inside(t_s, [span])].max(initial=0.0) for span in runs]
    usual = max(peaks, default=0.0)
    if usual < LEAST_RISE_K:
        return []
    cold = [at for at, peak in enumerate(peaks) if peak <= LEFT_SHARE * usual]
    return [_hole(source, *runs[at]) for at in cold]


def _hole(source: str, from_s: float, to_s: float) -> Hole:
    why = msg("{probe}: it came off its spot and read the air", probe=source)
    return Hole(from_s, to_s, source, why, for_good=True)
