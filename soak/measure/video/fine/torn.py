"""Torn pictures: rows that are shifted sideways against the rows above them.

A page, a slide or a cut can put any two rows side by side, and some of those look like one row
shifted. So a tear is asked of the picture before as well: what stands above it went on from there,
and what stands below went on from there but for the shift. After a cut nothing goes on.
"""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from soak.measure.video.fine.view import THIN, Profile, View

STEP_RATIO, STEP_LUMA = 2.0, 1.0
"""A tear makes the step from one row to the next so much larger than it was. Own choice."""
FITS = 0.35
"""Shifted back, the rows fit this much better (squared difference). Own choice."""
LEAST_SHIFT = 3
"""Slanted edges of the content shift by less from row to row, pixels. Our own choice."""
LEAST_SHAPES_LUMA = 4.0
"""A row that strays by less has no shapes that a shift could be told by, luma levels. Our own
choice: noise strays by less."""
STRIP_ROWS = 14
"""Rows above and below a tear that are looked for in the picture before. Own choice: half a line of
text, little enough for a band of a few dozen rows."""
GOES_ON, GOES_ON_SHARE, GOES_ON_LUMA2 = 0.5, 0.2, 9.0
"""The rows below fit the picture before so much better with the shift than without; and a strip
goes on from it if it differs by no more than this share of its own variance and so many squared
luma levels. Own choice: set on pages in six fonts, photographs that pan and three films, with noise
of sigma 0 to 3 and JPEG quality 60 to 92."""
MOST_MOTION = (8, 64)
"""Rows and columns by which a scene may move from one picture to the next. Own choice: what moves
faster is blurred or looks like a cut, and is not called."""
MOST_MOTION_BETWEEN = (48, 128)
"""The same over the pictures that were passed over. Own choice: six rows and sixteen columns a
picture, eight pictures on."""
BEGINS_RATIO, BEGINS_LUMA = 2.0, 1.0
"""Where a standing picture tears, the change to the picture before is so many times that in the
rows above, and so many luma levels more. Own choice."""
_PAIRS = ((0, 1), (-1, 1), (0, 2), (-1, 2))
"""Pairs of rows across a place, counted from the last row above it on. By definition."""
AGREE = 2
"""So many of them must agree where pictures were passed over in between. Own choice: a chance
likeness is one pair's, and each costs as many pictures again."""
_REACH = 256
"""Largest shift that is looked for, pixels; a quarter of the width where that is less. Our own
choice."""
_AROUND = 3
"""Rows above and below a place that its change is compared over. Our own choice."""
_PARTS, _FEWEST_PARTS = 16, 3
"""Parts of the width that are asked each for itself, and so many must say the same. Our own
choice."""
_LOCAL_MOTION = 8
"""Columns by which a part may move otherwise than the scene; less than half of the shift. Our own
choice."""
_MOST_CANDIDATES = 10
"""So many rows that stand out most are looked at for a tear. Our own choice."""

Floats = NDArray[np.float32]
Motion = tuple[int, int]
"""Rows down and columns to the right."""


def _beside(profile: Profile, reach: int) -> Profile:
    """Return the largest value within `reach` of each place."""
    return np.asarray(
        cv2.dilate(profile.reshape(-1, 1), np.ones((2 * reach + 1, 1), np.uint8)), np.float32
    ).ravel()


def _aligned(now: Profile, before: Profile, most: int) -> Profile:
    """Return the profile before, moved up or down to where the scene has scrolled since."""
    inner = now[most:-most]
    moves = range(2 * most + 1)
    apart = [cv2.norm(inner, before[at : at + len(inner)], cv2.NORM_L1) for at in moves]
    return np.roll(before, most - int(np.argmin(apart)))


def candidates(now: Profile, before: Profile, most: int = MOST_MOTION[0]) -> list[int]:
    """Return rows after which the step is new and large, the largest first."""
    there = _aligned(now, before, most)
    least = 0.6 * np.float32(np.median(before))
    # Where the scene has moved by parts of a row a step may stand a row or two beside.
    ways = (np.maximum(_beside(there, 2), least), np.maximum(there, least))
    return [row for usual in ways for row in _largest(now / (STEP_RATIO * usual + STEP_LUMA) - 1)]


def prominent(now: Profile) -> list[int]:
    """Return rows after which the step is larger than those around it, the largest first."""
    around = cv2.medianBlur(now.reshape(-1, 1), 5).ravel()
    return _largest(now - (1.8 * around + STEP_LUMA))


def changes_begin(now: View, before: View) -> list[int]:
    """Return rows after which the change to the picture before begins or ends, likewise."""
    apart = cv2.absdiff(now.thin, before.thin)
    means: Any = cv2.reduce(apart, 1, cv2.REDUCE_AVG, dtype=cv2.CV_32F)
    change = np.asarray(means, np.float32).ravel()
    sums = np.concatenate([np.zeros(1, np.float32), np.cumsum(change)])
    over = np.float32(_AROUND)
    near = (sums[_AROUND:] - sums[:-_AROUND]) / over  # near[n]: mean of rows n to n + 2
    above = near[:-_AROUND]
    below = near[_AROUND:]
    excess = np.full(len(change) - 1, -1, np.float32)
    least = np.minimum(above, below)
    excess[_AROUND - 1 : len(change) - _AROUND] = (
        np.maximum(above, below) / (BEGINS_RATIO * least + BEGINS_LUMA) - 1
    )
    # The last step into the change is the sharpest one of those about it.
    sharp = np.abs(np.diff(change))
    excess[sharp < _beside(sharp, _AROUND - 1)] = -1
    return _largest(excess)


def _largest(excess: Any) -> list[int]:
    order = np.argsort(excess)[::-1][:_MOST_CANDIDATES]
    return [int(row) for row in order if excess[row] > 0]


def shift_after(view: View, row: int, agree: int = 1) -> int:
    """Return by how many pixels the rows after `row` are shifted against it; 0 if they are not.

    So many of the pairs of rows across the place must agree on it.
    """
    shifts: list[int] = []
    for above, below in _PAIRS:
        if row + above < 0 or row + below >= len(view.luma):
            continue
        shift = shift_between(view, row + above, row + below)
        if shift:
            shifts.append(shift)
            if sum(abs(own - shift) <= 1 for own in shifts) >= agree:
                return shift
        elif not shifts and agree > 1:
            return 0  # where more is asked the two rows beside the place must be among them
    return 0


def shift_between(view: View, above: int, below: int) -> int | None:
    """Return by how many pixels a row is shifted against one above it; 0 if it is not.

    None where the one above has no shapes that it could be told by.
    """
    if (above, below) not in view.shifts:
        view.shifts[above, below] = _shift(view.luma, above, below)
    return view.shifts[above, below]


def _shift(luma: NDArray[np.uint8], above: int, below: int) -> int | None:
    reach = min(_REACH, luma.shape[1] // 4)
    one = luma[above : above + 1].astype(np.float32)
    if float(np.std(one)) < LEAST_SHAPES_LUMA:
        return None
    other = luma[below : below + 1].astype(np.float32)
    padded = cv2.copyMakeBorder(other, 0, 0, reach, reach, cv2.BORDER_REPLICATE)
    cost: Any = cv2.matchTemplate(padded, one, cv2.TM_SQDIFF).ravel()
    at = int(np.argmin(cost))
    shift = at - reach
    # The best at the very end of the search is no best: it would go on falling.
    inside = 2 <= at <= 2 * reach - 2
    fits = inside and float(cost[at]) <= FITS * float(cost[reach])
    return int(shift) if fits and abs(shift) >= LEAST_SHIFT else 0


class _Votes:
    """What the parts of a strip of rows say: whether they went on from the picture before.

    Each part is looked for by itself, for a scene moves by much here and by little there.

    Attributes
    ----------
    whole, torn : int
        Parts that went on with the scene, and parts that did so but for the shift.
    """

    def __init__(self, now: View, before: View, first: int, motion: Motion, shift: int) -> None:
        self._before = before.luma
        self._first = first
        rows = now.luma[first : first + STRIP_ROWS].astype(np.float32)
        width = rows.shape[1] // _PARTS
        self.whole = self.torn = 0
        for left in range(0, width * _PARTS, width):
            part = rows[:, left : left + width]
            variance = float(np.var(part))
            if variance < LEAST_SHAPES_LUMA**2:
                continue
            most = GOES_ON_SHARE * variance + GOES_ON_LUMA2
            whole = self._cost(part, left, motion, 0, shift)
            torn = self._cost(part, left, motion, shift, shift)
            self.whole += whole <= most and whole <= GOES_ON * torn
            self.torn += torn <= most and torn <= GOES_ON * whole

    def _cost(self, part: Floats, left: int, motion: Motion, by: int, shift: int) -> float:
        """Return the least mean squared difference to what was there, luma levels squared."""
        down, right = motion
        reach = max(1, min(_LOCAL_MOTION, abs(shift) // 2 - 1))
        height, width = self._before.shape
        top = max(0, self._first - down - 2)
        bottom = min(height, self._first - down + len(part) + 2)
        start = max(0, left - right - by - reach)
        end = min(width, left - right - by + part.shape[1] + reach)
        search = self._before[top:bottom, start:end]
        if search.shape[0] < part.shape[0] or search.shape[1] < part.shape[1]:
            return float("inf")
        cost = cv2.matchTemplate(search.astype(np.float32), part, cv2.TM_SQDIFF)
        return float(cost.min()) / part.size


def _motion(now: View, before: View, first: int, most: Motion) -> Motion:
    """Return by how many rows and columns a strip has moved since the picture before."""
    last = first + STRIP_ROWS
    rows = now.luma[first:last]
    stood = before.luma[first:last]
    apart = GOES_ON_SHARE * float(np.var(rows)) + GOES_ON_LUMA2
    if cv2.norm(rows, stood, cv2.NORM_L2SQR) <= apart * rows.size:
        return 0, 0
    # Every fourth column tells it roughly; then the columns about it are looked at.
    across = most[1] // THIN
    down, right = _best(now.thin, before.thin, slice(first, last), (0, 0), (most[0], across))
    return _best(now.luma, before.luma, slice(first, last), (down, THIN * right), (1, THIN))


def _best(
    now: NDArray[np.uint8], before: NDArray[np.uint8], rows: slice, about: Motion, reach: Motion
) -> Motion:
    """Return the motion of some rows that fits best, within `reach` of what it is about."""
    side = abs(about[1]) + reach[1]
    part = np.ascontiguousarray(now[rows, side:-side])
    top = max(0, rows.start - about[0] - reach[0])
    bottom = rows.stop - about[0] + reach[0]
    left = side - about[1] - reach[1]
    search = np.ascontiguousarray(before[top:bottom, left : left + part.shape[1] + 2 * reach[1]])
    if search.shape[0] < part.shape[0]:
        return about
    cost: Any = cv2.matchTemplate(search, part, cv2.TM_SQDIFF)
    at = np.unravel_index(int(cost.argmin()), cost.shape)
    return rows.start - top - int(at[0]), side - left - int(at[1])


def _came_apart(now: View, before: View, row: int, shift: int, most: Motion = MOST_MOTION) -> bool:
    """Tell whether rows went on from the picture before, but for a shift of those after `row`."""
    above = row + 1 - STRIP_ROWS
    below = row + 1
    if above < 0 or below + STRIP_ROWS > len(now.luma):
        return False
    for stays, tears_off, by in ((above, below, shift), (below, above, -shift)):
        motion = _motion(now, before, stays, most)
        place = row - motion[0]
        if not 0 <= place < len(before.row_steps) or shift_after(before, place):
            continue
        other = _Votes(now, before, tears_off, motion=motion, shift=by)
        if other.torn < max(_FEWEST_PARTS, 2 * other.whole):
            continue
        own = _Votes(now, before, stays, motion=motion, shift=by)
        if own.whole >= max(1, 2 * own.torn):
            return True
    return False


def tears(now: View, before: View, most: Motion = MOST_MOTION) -> list[tuple[int, int]]:
    """Return (row, shift in pixels) of each new tear; the scene has moved by `most` at most."""
    agree = 1 if most == MOST_MOTION else AGREE
    rows = candidates(now.row_steps, before.row_steps, most[0]) + changes_begin(now, before)
    shifts = ((row, shift_after(now, row, agree)) for row in dict.fromkeys(rows))
    return [
        (row, shift)
        for row, shift in shifts
        if shift and _came_apart(now, before, row, shift, most)
    ]


def still_torn(now: View, marks: list[tuple[int, int]]) -> bool:
    """Tell whether a tear found before is still at its row."""
    rows = len(now.row_steps)
    return any(row < rows and abs(shift_after(now, row) - shift) <= 2 for row, shift in marks)
