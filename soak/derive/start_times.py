"""Times to picture of starts of one kind: their trend, and which of them stand out."""

import statistics
from collections.abc import Sequence

from soak.derive.starts import Start
from soak.records import Json
from soak.statistics.trend import mann_kendall, theil_sen

FEWEST = 8
"""Fewer times show neither trend nor outlier. Our own choice."""

UNUSUAL_Z = 3.5
LEAST_S = 1.0
"""An outlier is also so far from the median: times to picture are read to a frame or two, and a
very even unit has no spread worth the name. Our own choice."""


def outliers(starts: Sequence[Start]) -> list[Json]:
    """Return the starts whose time stands out, with number and modified z-score.

    References
    ----------
    Modified z-score 0.6745 (x - median) / MAD, limit 3.5: Iglewicz & Hoaglin, How to Detect and
    Handle Outliers (1993); NIST/SEMATECH e-Handbook 1.3.5.17.
    """
    timed = [(start, start.took_s) for start in starts if start.took_s]  # 0: it went on
    if len(timed) < FEWEST:
        return []
    middle = statistics.median(took_s for _, took_s in timed)
    spread = statistics.median(abs(took_s - middle) for _, took_s in timed)
    found: list[Json] = []
    for start, took_s in timed:
        z = 0.6745 * (took_s - middle) / max(spread, 1e-3)
        if abs(z) > UNUSUAL_Z and abs(took_s - middle) >= LEAST_S:
            found.append({"number": start.number, "took_s": took_s, "z": round(z, 1)})
    return found


def trend_of(times_s: Sequence[float], confidence: float) -> Json | None:
    """Return Mann-Kendall's S and chance with Theil-Sen's slope in s a start; None if too few."""
    if len(times_s) < FEWEST:
        return None
    trend = mann_kendall(times_s)
    slope, low, high = theil_sen(range(len(times_s)), times_s, confidence)
    return {
        "s": trend.s,
        "chance": round(trend.chance, 6),
        "method": trend.method,
        "s_per_start": slope,
        "bound_low": low,
        "bound_high": high,
    }
