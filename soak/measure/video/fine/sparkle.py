"""Sparkle: single pixels anywhere in the picture that flash for one picture and are gone.

Texture, text and stars hold single pixels, too. A spark differs from them by being alone in space
and in time: nothing as large is near it, neither in this picture nor in the one before, where a
moving detail would have to come from.
"""

from collections import deque
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from soak.measure.video.fine.view import View
from soak.measure.video.intake import Arrived

STANDS_OUT_LUMA = 14
"""A spark is so much brighter or darker than each of its eight neighbours. Own choice: noise of
sigma 4 under JPEG quality 60 to 92 has no such pixels that are alone."""
REACH, OWN = 5, 2
"""Around a spark, to so many pixels each way, nothing else stands out; so many pixels each way are
its own: a JPEG smears it, chroma of half size twice as far. Our own choice."""
ALONE = 0.5
"""What else is there is less than this share of the spark's height. Our own choice."""
CUT_LUMA = 10.0
"""Median change of luma from which a picture does not continue the one before: after a cut
everything is new. Own choice."""
GRID = 8
"""The picture is looked at in GRID x GRID cells: sparks fall everywhere, texture lies somewhere.
Our own choice."""
_FEWEST, _SHARE = 8.0, 5e-6
"""At least so many sparks, and so many for each pixel: of one in 10 000, JPEG quality 60 and a
noisy picture left one in ten to be seen (least of 24 contents). Measured so; the figures are our
own choice."""
TIMES_USUAL, SIGMAS = 2.0, 4.0
"""And so many times the stream's usual number, and so many of its standard deviations (Poisson).
Our own choice."""
SCATTERED, FEWEST_CELLS, HEAPED = 0.4, 6, 0.3
"""Of the cells that so many evenly scattered sparks would hit, this share must be hit, and so many
at least; none holds more than the third. Own choice: text leaves sparks to be seen between its
lines only, glitter and explosions lie somewhere."""
_KNOWN = 3
"""From so many pictures on the stream's usual is known. Our own choice."""
EARLY_TIMES, EARLY_SCATTERED, EARLY_HEAPED, EARLY_PICTURES = 3.0, 0.7, 0.15, 4
"""Until then a stream sparkles where so many times the fewest sparks hit the second share of the
cells that chance would, none holds more than the third, in so many pictures one after the other: a
noisy pan has one such picture. Our own choice."""
_MOST_CANDIDATES = 2500
"""Of more places that stand out so many are looked at, evenly chosen, and the number found is
scaled. Our own choice."""
_RING = np.array([[1, 1, 1], [1, 0, 1], [1, 1, 1]], np.uint8)
_DOWN, _RIGHT = (axis.ravel() for axis in np.mgrid[-REACH : REACH + 1, -REACH : REACH + 1])
_AROUND = np.maximum(np.abs(_DOWN), np.abs(_RIGHT)) > OWN

Cells = NDArray[np.float64]
Places = NDArray[np.intp]


def standing_out(luma: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return a map, 255 where a pixel stands out from all its eight neighbours, else 0."""
    above: Any = cv2.subtract(luma, cv2.dilate(luma, _RING))
    below: Any = cv2.subtract(cv2.erode(luma, _RING), luma)
    most: Any = cv2.max(above, below)
    return np.asarray(cv2.threshold(most, STANDS_OUT_LUMA, 255, cv2.THRESH_BINARY)[1], np.uint8)


def fresh_sparks(now: View, before: View) -> Cells:
    """Return how many sparks are new since the picture before, in each cell, shape (64,)."""
    rows, columns = _new_places(now, before)
    height, width = now.luma.shape
    inside = (rows >= REACH) & (rows < height - REACH) & (columns >= REACH)
    inside &= columns < width - REACH
    rows = rows[inside]
    columns = columns[inside]
    thinned = max(1.0, rows.size / _MOST_CANDIDATES)
    if thinned > 1.0:
        chosen = np.linspace(0, rows.size - 1, _MOST_CANDIDATES).astype(np.intp)
        rows = rows[chosen]
        columns = columns[chosen]
    if not rows.size or _is_cut(now, before):
        return np.zeros(GRID * GRID)
    alone = _are_alone(now.luma, before.luma, rows, columns)
    cells = rows[alone] * GRID // height * GRID + columns[alone] * GRID // width
    return np.asarray(np.bincount(cells, minlength=GRID * GRID) * thinned, np.float64)


def _new_places(now: View, before: View) -> tuple[Places, Places]:
    """Return rows and columns of pixels that stand out where none did in the picture before."""
    sparks = now.once(standing_out)
    # Fine texture of the content stands where it stood, or a pixel beside it.
    stood = cv2.dilate(before.once(standing_out), np.ones((3, 3), np.uint8))
    points: Any = cv2.findNonZero(cv2.bitwise_and(sparks, cv2.bitwise_not(stood)))
    if points is None:
        return np.zeros(0, np.intp), np.zeros(0, np.intp)
    columns, rows = np.asarray(points, np.intp).reshape(-1, 2).T
    moved = cv2.absdiff(now.luma, before.luma)[rows, columns] > STANDS_OUT_LUMA
    return rows[moved], columns[moved]


def _is_cut(now: View, before: View) -> bool:
    apart = cv2.absdiff(now.luma[::16, ::16], before.luma[::16, ::16])
    return float(np.median(apart)) > CUT_LUMA


def _are_alone(
    now: NDArray[np.uint8], before: NDArray[np.uint8], rows: Places, columns: Places
) -> NDArray[np.bool_]:
    """Tell of each place whether all around it, and all there before, is low beside it."""
    down = rows[:, None] + _DOWN
    right = columns[:, None] + _RIGHT
    around = now[down[:, _AROUND], right[:, _AROUND]].astype(np.int16)
    ground = np.median(around, axis=1)
    height = np.abs(now[rows, columns] - ground)
    others = np.abs(around - ground[:, None]).max(axis=1)
    earlier = np.abs(before[down, right].astype(np.int16) - ground[:, None]).max(axis=1)
    return np.asarray(np.maximum(others, earlier) < ALONE * height)


class Sparkle:
    """Counts sparks against what is usual in this stream.

    Attributes
    ----------
    early : Arrived or None
        The first picture that sparkled before the usual was known, while they go on.
    """

    def __init__(self) -> None:
        self._usual: deque[float] = deque(maxlen=16)
        self.early: Arrived | None = None
        self._early_pictures = 0

    def sparks(self, cells: Cells, pixels: int) -> float:
        """Return the sparks of a picture of so many pixels if it sparkles, else 0."""
        if not self._is_known:
            called = self._early_pictures >= EARLY_PICTURES - 1
            return float(cells.sum()) if called and self._is_early(cells, pixels) else 0.0
        usual = float(np.median(self._usual))
        least = max(_FEWEST, _SHARE * pixels) + TIMES_USUAL * usual + SIGMAS * np.sqrt(usual)
        return _scattered(cells, least, SCATTERED, HEAPED)

    @property
    def _is_known(self) -> bool:
        return len(self._usual) >= _KNOWN

    @staticmethod
    def _is_early(cells: Cells, pixels: int) -> bool:
        least = EARLY_TIMES * max(_FEWEST, _SHARE * pixels)
        return _scattered(cells, least, EARLY_SCATTERED, EARLY_HEAPED) > 0

    def learn(self, cells: Cells, pixels: int, arrived: Arrived) -> None:
        """Take the cells of a picture without any fault."""
        if not self._is_known and self._is_early(cells, pixels):
            self.early = self.early or arrived
            self._early_pictures += 1
            return
        self.gone()
        self._usual.append(float(cells.sum()))

    def gone(self) -> None:
        """Take that the picture is gone; what is usual is kept."""
        self.early = None
        self._early_pictures = 0

    def learn_still(self) -> None:
        """Take a picture that repeats the one before, where little is known."""
        if not self._is_known:
            self._usual.append(0.0)


def _scattered(cells: Cells, least: float, scattered: float, heaped: float) -> float:
    """Return the number of sparks if there are so many, and evenly scattered; else 0."""
    count = float(cells.sum())
    by_chance = cells.size * (1 - np.exp(-count / cells.size))
    hit = int(np.count_nonzero(cells))
    if count < least or hit < max(FEWEST_CELLS, scattered * by_chance):
        return 0.0
    return count if float(cells.max()) <= heaped * count else 0.0
