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
GRID = 8
"""The picture is looked at in GRID x GRID cells: sparks fall everywhere, texture lies somewhere."""
QUIET = 0.6
"""A cell with fewer fresh sparks than this on average is quiet; fine texture is not."""
_FEWEST_QUIET = 12
_FEWEST, _PER_CELL, _TIMES_USUAL = 12, 0.6, 3.0
"""At least so many sparks in quiet cells, so many in each, and so many times the usual."""
SCATTERED = 0.7
"""Of the cells that evenly scattered sparks would hit, this share must be hit."""
_EXPECTED = 3.5e-5
"""Share of all pixels that must be sparks: fine text that begins to scroll makes some."""
_KNOWN = 3
_RING = np.array([[1, 1, 1], [1, 0, 1], [1, 1, 1]], np.uint8)

Cells = NDArray[np.float64]


def standing_out(luma: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return a map, 255 where a pixel stands out from all its eight neighbours, else 0."""
    above: Any = cv2.subtract(luma, cv2.dilate(luma, _RING))
    below: Any = cv2.subtract(cv2.erode(luma, _RING), luma)
    most: Any = cv2.max(above, below)
    return np.asarray(cv2.threshold(most, STANDS_OUT_LUMA, 255, cv2.THRESH_BINARY)[1], np.uint8)


def fresh_sparks(now: View, before: View) -> Cells:
    """Return how many sparks are new since the picture before, in each cell, shape (64,)."""
    sparks = now.once(standing_out)
    # Fine texture of the content stands where it stood, or a pixel beside it.
    stood = cv2.dilate(before.once(standing_out), np.ones((3, 3), np.uint8))
    new = cv2.bitwise_and(sparks, cv2.bitwise_not(stood))
    found: Any = cv2.findNonZero(new)
    if found is None:
        return np.zeros(GRID * GRID)
    columns, rows = np.asarray(found).reshape(-1, 2).T
    moved = cv2.absdiff(now.luma, before.luma)[rows, columns] > STANDS_OUT_LUMA
    height, width = now.luma.shape
    cells = rows[moved] * GRID // height * GRID + columns[moved] * GRID // width
    return np.bincount(cells, minlength=GRID * GRID).astype(float)


class Sparkle:
    """Counts sparks against what is usual in this stream."""

    def __init__(self) -> None:
        self._usual: deque[Cells] = deque(maxlen=16)

    def sparks(self, cells: Cells, pixels: int) -> float:
        """Return the sparks of a picture of so many pixels if it sparkles, else 0."""
        if len(self._usual) < _KNOWN:
            return 0.0
        usual = np.mean(self._usual, axis=0)
        quiet = usual < QUIET
        number = int(np.count_nonzero(quiet))
        if number < _FEWEST_QUIET:
            return 0.0
        count, each = float(cells[quiet].sum()), float(cells[quiet].mean())
        least = max(_PER_CELL, _EXPECTED * pixels / GRID**2)
        least += _TIMES_USUAL * float(usual[quiet].mean())
        hit = float(np.count_nonzero(cells[quiet])) / number
        if count < _FEWEST or each < least or hit < SCATTERED * (1 - np.exp(-each)):
            return 0.0
        # Evenly scattered sparks do not heap up in a few cells.
        if float(np.median(cells[quiet])) < 0.5 * each - 0.5:
            return 0.0
        return count * GRID * GRID / number

    def learn(self, cells: Cells) -> None:
        """Take the cells of a picture without any fault."""
        self._usual.append(cells)

    def learn_still(self) -> None:
        """Take a picture that repeats the one before, where little is known."""
        if len(self._usual) < _KNOWN:
            self._usual.append(np.zeros(GRID * GRID))
