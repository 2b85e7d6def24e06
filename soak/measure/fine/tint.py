"""A colour lane that is lost or stuck: one of the three changes alone, all over the picture."""

from dataclasses import dataclass

import numpy as np

from soak.measure.fine.view import Small

CHANGE_LUMA = 18.0
"""A lane's mean change over the cells, levels. Own choice."""
TIMES_OTHERS, OTHERS_LUMA = 3.5, 4.0
"""The lane changes so much more than the other two. Own choice."""
SPREAD = 0.6
"""Of the cells this share changes visibly. Own choice: a coloured overlay is smaller."""
SHAPES_LUMA = 6.0
"""The other two lanes must show shapes; otherwise a plain area changed its colour."""
FLAT_LUMA = 5.0
LANES = ("blue", "green", "red")


@dataclass(frozen=True, slots=True)
class Step:
    """One lane alone changed: which, whether it is flat now and was before."""

    lane: int
    flat_now: bool
    flat_before: bool


def lane_step(now: Small, before: Small) -> Step | None:
    """Return the step of one lane alone from one picture's cells to the next's; None if none."""
    change = np.abs(now - before)
    means = change.mean(axis=(0, 1))
    lane = int(np.argmax(means))
    others = [one for one in range(3) if one != lane]
    if means[lane] < CHANGE_LUMA:
        return None
    if means[lane] < TIMES_OTHERS * max(means[one] for one in others) + OTHERS_LUMA:
        return None
    flat_now, flat_before = is_flat(now, lane), is_flat(before, lane)
    moved = change[..., lane] > np.maximum(8.0, 2.0 * change[..., others].max(axis=2))
    if flat_now == flat_before and float(moved.mean()) < SPREAD:
        return None
    if max(float(np.std(now[..., one])) for one in others) < SHAPES_LUMA:
        return None
    return Step(lane, flat_now, flat_before)


def is_flat(cells: Small, lane: int) -> bool:
    """Tell whether a lane has one value all over the picture."""
    return float(np.std(cells[..., lane])) <= FLAT_LUMA


def agrees(now: Small, before: Small, lane: int) -> bool:
    """Tell whether the two other lanes show the same scene in both."""
    others = [one for one in range(3) if one != lane]
    return float(np.abs(now[..., others] - before[..., others]).mean()) < 15.0


class Tint:
    """Follows the colour lanes from picture to picture.

    Attributes
    ----------
    lane : int or None
        The lane that is tinted now; None if none is.
    """

    def __init__(self) -> None:
        self.lane: int | None = None
        self._flat = False
        self._last: Small | None = None
        self._healthy: Small | None = None

    def differs(self, cells: Small) -> bool:
        """Tell whether seeing these cells would change what is said."""
        return self._next(cells)[0] != self.lane

    def see(self, cells: Small) -> bool:
        """Take the next picture's cells; tell whether it is tinted."""
        self.lane, self._flat = self._next(cells)
        self._last = cells
        return self.lane is not None

    def forget(self) -> None:
        """Forget the scene: the picture was gone in between."""
        self._last = None

    def _next(self, cells: Small) -> tuple[int | None, bool]:
        last = self._last
        if last is None:
            return None, False
        step = lane_step(cells, last)
        if self.lane is None:
            if step is None or (step.flat_before and not step.flat_now):
                return None, False
            return step.lane, step.flat_now
        if step is not None and step.lane == self.lane:
            return None, False
        if self._flat and not is_flat(cells, self.lane):
            return None, False
        if not self._flat and not agrees(cells, last, self.lane):
            return None, False
        return self.lane, self._flat
