"""A colour lane that steps: one of the three changes alone, all over the picture."""

from dataclasses import dataclass

import numpy as np

from soak.measure.video.colour import Colour, Small
from soak.measure.video.fine.lanes import is_flat

CHANGE_LUMA = 18.0
"""A lane's mean change over the cells, levels. Own choice."""
TIMES_OTHERS, OTHERS_LUMA = 3.5, 4.0
"""The lane changes so much more than the other two. Own choice."""
SPREAD = 0.6
"""Of the cells this share changes visibly. Own choice: a coloured overlay is smaller."""
SHAPES_LUMA = 3.0
"""One of the other two lanes must show shapes; otherwise a plain area changed its colour. Our own
choice."""
LIVELY_LUMA, LIVELY_SHARE = 7.0, 0.3
"""A lane that goes flat had at least this standard deviation over the small picture before, levels,
and this share of the liveliest other's. Own choice: a JPEG of quality 60 to 92 leaves up to 1.6 in
a flat one, noise adds less than 1, and a share of 0.17 is the most that was seen."""
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
        others = others_of(lane)
        if is_flat(now, lane) == is_flat(before, lane):
            continue
        lively = now if is_flat(before, lane) else before
        least = max(LIVELY_LUMA, LIVELY_SHARE * float(lively.spread[others].max()))
        if float(lively.spread[lane]) < least:
            continue
        if any(is_flat(look, other) for look in (now, before) for other in others):
            continue
        if min(float(look.spread[others].max()) for look in (now, before)) < SHAPES_LUMA:
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
    others = others_of(lane)
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


def others_of(lane: int) -> list[int]:
    """Return the two other lanes."""
    return [other for other in range(3) if other != lane]


def agrees(now: Colour, before: Colour, lane: int) -> bool:
    """Tell whether the two other lanes show the same scene in both."""
    others = others_of(lane)
    return float(np.abs(now.cells[..., others] - before.cells[..., others]).mean()) < 15.0
