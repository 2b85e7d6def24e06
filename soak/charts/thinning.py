"""Thin millions of points to what a column of pixels can show, without losing an extreme."""

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from soak.derive.spans import Span
from soak.evidence import Floats


def thin(t_s: Floats, value: Floats, columns: int, from_s: float, to_s: float) -> NDArray[np.intp]:
    """Return the indices to draw: first, lowest, highest and last point of each column.

    Parameters
    ----------
    t_s, value : ndarray, shape (n,)
        Times in s, rising, and values; all finite.
    columns : int
        Columns of pixels between `from_s` and `to_s`.

    Returns
    -------
    ndarray of int, shape (m,)
        Rising; m <= 4 (columns + 1). The lowest and the highest value are always among them.

    References
    ----------
    U. Jugel, Z. Jerzak, G. Hackenbroich, V. Markl, "M4: a visualization-oriented time series data
    aggregation", Proceedings of the VLDB Endowment 7 (10), 2014, 797-808.
    """
    count = len(t_s)
    if count <= 4 * columns:
        return np.arange(count)
    scale = columns / max(to_s - from_s, 1e-9)
    column = np.clip((t_s - from_s) * scale, 0, columns).astype(np.int64)
    first = np.flatnonzero(np.diff(column, prepend=column[0] - 1))
    last = np.append(first[1:], count) - 1
    kept = [first, last]
    # A loop over a few hundred columns beats sorting ten million values.
    spans = zip(first.tolist(), (last + 1).tolist(), strict=True)
    for begin, end in spans:
        part = value[begin:end]
        kept.append(np.array([begin + int(part.argmin()), begin + int(part.argmax())]))
    return np.unique(np.concatenate(kept))


def pieces(t_s: Floats, gap_s: float, holes: Sequence[Span] = ()) -> Iterator[tuple[int, int]]:
    """Yield begin and end index of each unbroken piece of a series.

    A piece ends where the next point is more than `gap_s` away, or where a hole lies between two
    points: nobody looked there, so no line may cross it.
    """
    if len(t_s) == 0:
        return
    cut = np.diff(t_s) > gap_s
    for begin_s, end_s in holes:
        before = int(np.searchsorted(t_s, begin_s, side="right"))
        after = int(np.searchsorted(t_s, end_s, side="left"))
        cut[max(before - 1, 0) : max(before, after)] = True
    edges = np.flatnonzero(cut) + 1
    begins = np.concatenate(([0], edges))
    ends = np.concatenate((edges, [len(t_s)]))
    yield from zip(begins.tolist(), ends.tolist(), strict=True)


def outside(t_s: Floats, holes: Sequence[Span]) -> NDArray[np.bool_]:
    """Tell which points, shape (n,), do not lie strictly inside a hole: only these are drawn."""
    keep = np.ones(len(t_s), dtype=bool)
    for begin_s, end_s in holes:
        keep[np.searchsorted(t_s, begin_s, "right") : np.searchsorted(t_s, end_s, "left")] = False
    return keep


def usual_gap_s(t_s: Floats, least_s: float) -> float:
    """Return the gap in s above which two points are not joined: 5 usual steps, or `least_s`."""
    if len(t_s) < 3:
        return least_s
    return max(5.0 * float(np.median(np.diff(t_s))), least_s)
