"""Spans of soak time and the little arithmetic that judgement does with them."""

from collections.abc import Iterable, Sequence

import numpy as np
from numpy.typing import NDArray

from soak.evidence import Floats

Span = tuple[float, float]
"""Begin and end in s of soak time; both ends belong to it."""


def merged(spans: Iterable[Span]) -> list[Span]:
    """Return the spans in order of time, joined where they overlap or touch."""
    joined: list[Span] = []
    for from_s, to_s in sorted(spans):
        if joined and from_s <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], to_s))
        else:
            joined.append((from_s, to_s))
    return joined


def common(some: Iterable[Span], others: Iterable[Span]) -> list[Span]:
    """Return where both lie, in order of time; spans of no length are left out."""
    left = merged(some)
    right = merged(others)
    both = []
    at = 0
    for from_s, to_s in left:
        while at < len(right) and right[at][1] <= from_s:
            at += 1
        look = at
        while look < len(right) and right[look][0] < to_s:
            both.append((max(from_s, right[look][0]), min(to_s, right[look][1])))
            look += 1
    return [span for span in both if span[1] > span[0]]


def minus(spans: Iterable[Span], holes: Iterable[Span]) -> list[Span]:
    """Return what of `spans` lies outside `holes`, in order of time."""
    ordered = merged(holes)
    begins = [float("-inf"), *(hole[1] for hole in ordered)]
    ends = [*(hole[0] for hole in ordered), float("inf")]
    between = [pair for pair in zip(begins, ends, strict=True) if pair[1] > pair[0]]
    return common(spans, between)


def total_s(spans: Iterable[Span]) -> float:
    """Return the summed length in s, overlaps counted once."""
    return float(sum(to_s - from_s for from_s, to_s in merged(spans)))


def longest_s(spans: Iterable[Span]) -> float:
    """Return the length in s of the longest span; 0 if there is none."""
    return max((to_s - from_s for from_s, to_s in merged(spans)), default=0.0)


def touching(from_s: float, to_s: float, spans: Iterable[Span]) -> Span | None:
    """Return the first of `spans` that has a point in common with `from_s` to `to_s`."""
    return next((span for span in spans if span[0] <= to_s and span[1] >= from_s), None)


def holds(t_s: float, spans: Iterable[Span]) -> bool:
    """Tell whether one of the spans holds the time."""
    return touching(t_s, t_s, spans) is not None


def runs(t_s: Floats, chosen: NDArray[np.bool_]) -> list[Span]:
    """Return the spans from each run's first chosen time to the time after its last."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], chosen.astype(np.int8), [0]))))
    last = len(t_s) - 1
    return [
        (float(t_s[begin]), float(t_s[min(end, last)]))
        for begin, end in zip(edges[::2], edges[1::2], strict=True)
    ]


def inside(t_s: Floats, spans: Sequence[Span]) -> NDArray[np.bool_]:
    """Tell for each time, shape (n,) and in order, whether one of the spans holds it."""
    held = np.zeros(len(t_s), dtype=bool)
    for begin_s, end_s in merged(spans):
        held[np.searchsorted(t_s, begin_s) : np.searchsorted(t_s, end_s, side="right")] = True
    return held
