"""Sparkle: single pixels anywhere in the picture that flash for one picture and are gone."""

from collections import deque
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from soak.measure.fine.view import View

STANDS_OUT_LUMA = 20
"""A spark is so much brighter or darker than each of its eight neighbours. Own choice: lines and
edges of the content have a neighbour of their own kind, sparks do not."""
_FEWEST, _SHARE = 12, 1.2e-5
"""At least so many sparks, and at least this share of the pixels. Own choice."""
_TIMES_USUAL = 2.5
_GRID = (8, 8)
SCATTERED = 0.6
"""Of the cells that evenly scattered sparks would hit, this share must be hit."""
_RING = np.array([[1, 1, 1], [1, 0, 1], [1, 1, 1]], np.uint8)


def standing_out(luma: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return a map, 255 where a pixel stands out from all its eight neighbours, else 0."""
    above: Any = cv2.subtract(luma, cv2.dilate(luma, _RING))
    below: Any = cv2.subtract(cv2.erode(luma, _RING), luma)
    most: Any = cv2.max(above, below)
    return np.asarray(cv2.threshold(most, STANDS_OUT_LUMA, 255, cv2.THRESH_BINARY)[1], np.uint8)


def fresh_sparks(now: View, before: View) -> tuple[int, bool]:
    """Return how many sparks are new since the picture before, and whether they lie scattered."""
    if now.luma.shape != before.luma.shape:
        return 0, False
    sparks = now.once(standing_out)
    # Fine texture of the content stands where it stood, or a pixel beside it.
    new = cv2.bitwise_and(sparks, cv2.bitwise_not(cv2.dilate(before.once(standing_out), None)))
    rows, columns = np.nonzero(new)
    if not len(rows):
        return 0, False
    moved = cv2.absdiff(now.luma, before.luma)[rows, columns] > STANDS_OUT_LUMA
    rows, columns = rows[moved], columns[moved]
    count = len(rows)
    height, width = now.luma.shape
    cells = np.unique(rows * _GRID[0] // height * _GRID[1] + columns * _GRID[1] // width)
    whole = _GRID[0] * _GRID[1]
    return count, len(cells) >= SCATTERED * whole * (1 - np.exp(-count / whole))


class Sparkle:
    """Counts sparks against what is usual in this stream."""

    def __init__(self) -> None:
        self._usual: deque[int] = deque(maxlen=40)

    def limit(self, pixels: int) -> float:
        """Return the count from which on a picture sparkles."""
        least = max(_FEWEST, _SHARE * pixels)
        if not self._usual:
            return float("inf")
        return float(least + _TIMES_USUAL * max(self._usual))

    def see(self, now: View, before: View) -> int:
        """Return the number of sparks of a picture that sparkles, 0 of one that does not."""
        count, scattered = fresh_sparks(now, before)
        if scattered and count >= self.limit(now.luma.size):
            return count
        self._usual.append(count)
        return 0
