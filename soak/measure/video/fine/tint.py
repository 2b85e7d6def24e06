"""A colour lane that is lost or stuck: one of the three changes alone, all over the picture."""

from dataclasses import dataclass

import numpy as np

from soak.measure.video.fine.view import Colour, Small

CHANGE_LUMA = 18.0
"""A lane's mean change over the cells, levels. Own choice."""
TIMES_OTHERS, OTHERS_LUMA = 3.5, 4.0
"""The lane changes so much more than the other two. Own choice."""
SPREAD = 0.6
"""Of the cells this share changes visibly. Own choice: a coloured overlay is smaller."""
SHAPES_LUMA = 6.0
"""One of the other two lanes must show shapes; otherwise a plain area changed its colour. Our own
choice."""
FLAT_LUMA, LIVELY_LUMA = 4.0, 7.0
"""A lost or stuck lane has one value all over: its standard deviation over the small picture is at
most the first, levels, and before it was at least the second. Own choice: a JPEG of quality 60 to
92 leaves up to 1.6, noise adds less than 1."""
SAME_SCENE_LUMA = 25.0
"""The other two lanes go on as before: their cells change by less on average, levels. Own choice: a
cut changes them by more."""


@dataclass(frozen=True, slots=True)
class Step:
    """One lane alone changed: which, whether it is flat now and was before."""

    lane: int
    flat_now: bool
    flat_before: bool


def lane_step(now: Colour, before: Colour, same_scene: bool = True) -> Step | None:
    """Return the step of one lane alone from one picture to the next; None if none.

    Pictures that do not follow one on the other need not show the `same_scene`.
    """
    return _flattened(now, before, same_scene) or _changed(now.cells, before.cells, now, before)


def _flattened(now: Colour, before: Colour, same_scene: bool) -> Step | None:
    """Return the lane that has gone flat, or come back, while the others went on as before."""
    for lane in range(3):
        others = _others(lane)
        ends = sorted((float(now.spread[lane]), float(before.spread[lane])))
        if ends[0] > FLAT_LUMA or ends[1] < LIVELY_LUMA:
            continue
        if any(is_flat(one, other) for one in (now, before) for other in others):
            continue
        if min(float(one.spread[others].max()) for one in (now, before)) < SHAPES_LUMA:
            continue
        apart = np.abs(now.cells[..., others] - before.cells[..., others])
        if same_scene and float(apart.mean(axis=(0, 1)).max()) > SAME_SCENE_LUMA:
            continue
        return Step(lane, is_flat(now, lane), is_flat(before, lane))
    return None


def _changed(now: Small, before: Small, seen: Colour, was: Colour) -> Step | None:
    """Return the lane that has changed by far more than the others, over most of the picture."""
    change = np.abs(now - before)
    means = change.mean(axis=(0, 1))
    lane = int(np.argmax(means))
    others = _others(lane)
    if means[lane] < CHANGE_LUMA:
        return None
    if means[lane] < TIMES_OTHERS * float(means[others].max()) + OTHERS_LUMA:
        return None
    flat_now = is_flat(seen, lane)
    flat_before = is_flat(was, lane)
    moved = change[..., lane] > np.maximum(8.0, 2.0 * change[..., others].max(axis=2))
    if flat_now == flat_before and float(moved.mean()) < SPREAD:
        return None
    if float(seen.spread[others].max()) < SHAPES_LUMA:
        return None
    return Step(lane, flat_now, flat_before)


def _others(lane: int) -> list[int]:
    return [one for one in range(3) if one != lane]


def is_flat(colour: Colour, lane: int) -> bool:
    """Tell whether a lane has one value all over the picture."""
    return float(colour.spread[lane]) <= FLAT_LUMA


def agrees(now: Colour, before: Colour, lane: int) -> bool:
    """Tell whether the two other lanes show the same scene in both."""
    others = _others(lane)
    return float(np.abs(now.cells[..., others] - before.cells[..., others]).mean()) < 15.0


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
        self._last: Colour | None = None

    def differs(self, colour: Colour) -> bool:
        """Tell whether what is said may change with this picture; others may lie between."""
        return self._next(colour, same_scene=False)[0] != self.lane

    def see(self, colour: Colour) -> bool:
        """Take the next picture's lanes; tell whether it is tinted."""
        self.lane, self._flat = self._next(colour, same_scene=True)
        self._last = colour
        return self.lane is not None

    def _next(self, colour: Colour, same_scene: bool) -> tuple[int | None, bool]:
        last = self._last
        if last is None:
            return None, False
        step = lane_step(colour, last, same_scene)
        if self.lane is None:
            if step is None or (step.flat_before and not step.flat_now):
                return None, False
            return step.lane, step.flat_now
        if step is not None and step.lane == self.lane:
            return None, False
        if self._flat and not is_flat(colour, self.lane):
            return None, False
        if not self._flat and not agrees(colour, last, self.lane):
            return None, False
        return self.lane, self._flat
