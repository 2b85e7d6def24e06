"""What standards call steady, and how far below its end a body may still be when it is called so.

Each criterion looks at the change within a window. A body with a time constant much longer than
the window changes little in it and is far from its end all the same.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Criterion:
    """A change of at most `within_k` over `window_s`, and where it comes from."""

    name: str
    within_k: float
    window_s: float
    source: str


CRITERIA: Sequence[Criterion] = (
    Criterion("3 K in 30 min", 3.0, 1800.0, "IEC 62368-1 B.1.6; not checked against its own text"),
    Criterion(
        "1 K in 5 min",
        1.0,
        300.0,
        "IEC 62368-1 B.1.6 at 10 % below the limit; not checked against its own text",
    ),
    Criterion(
        "1 K in 15 min", 1.0, 900.0, "practice with IEC 60950; not checked against its own text"
    ),
    Criterion("2 K in 1 h", 2.0, 3600.0, "IEC 60034-1"),
)


def short_of_end_k(within_k: float, window_s: float, tau_s: float) -> float:
    """Return how far a first-order body is from its end when it first meets a criterion, in K.

    Over a window it covers the share `1 - exp(-window_s / tau_s)` of what was left at its
    beginning; what is left at its end follows.

    Raises
    ------
    ValueError
        If a number is not positive.

    References
    ----------
    Newton's law of cooling.
    """
    if min(within_k, window_s, tau_s) <= 0:
        raise ValueError("change, window and time constant must be more than 0")
    return within_k / math.expm1(window_s / tau_s)
