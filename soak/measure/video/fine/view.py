"""What fine faults are looked for in: luma, row and column profiles."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from soak.measure.decode import decode
from soak.measure.video.jpeg_header import luma_quantiser
from soak.measure.video.picture import Form, Held

Profile = NDArray[np.float32]
THIN = 4
"""One column in so many is enough for what goes across the whole picture. Our own choice."""


def full_luma(form: Form, size: tuple[int, int], data: bytes) -> NDArray[np.uint8] | None:
    """Return the luma of every pixel, shape (rows, columns); None if it cannot be decoded."""
    width, rows = size
    if form == "mjpeg":
        return decode(data, cv2.IMREAD_GRAYSCALE | cv2.IMREAD_IGNORE_ORIENTATION)
    whole = np.frombuffer(data, np.uint8).reshape(rows, width, -1)
    if form == "yuyv":
        return np.ascontiguousarray(whole[:, :, 0])
    return np.asarray(cv2.cvtColor(whole, cv2.COLOR_BGR2GRAY), np.uint8)


class View:
    """One picture seen fully.

    Attributes
    ----------
    luma : array of uint8
        Shape (rows, columns).
    row_steps : array of float32
        Mean difference of each row to the next, luma levels, shape (rows - 1,).
    quantiser : int
        How coarsely a JPEG's encoder worked, 0 where not known.
    shifts : dict of (row, row) to int or None
        What was found of pairs of rows, so that nothing is worked out twice.
    """

    __slots__ = ("_columns", "_sparks", "_thin", "luma", "quantiser", "row_steps", "shifts")

    def __init__(self, luma: NDArray[np.uint8], quantiser: int = 0) -> None:
        self.luma = luma
        self.quantiser = quantiser
        apart = cv2.absdiff(luma[1:], luma[:-1])
        means: Any = cv2.reduce(apart, 1, cv2.REDUCE_AVG, dtype=cv2.CV_32F)
        self.row_steps: Profile = np.asarray(means, np.float32).ravel()
        self.shifts: dict[tuple[int, int], int | None] = {}
        self._sparks: NDArray[np.uint8] | None = None
        self._columns: Profile | None = None
        self._thin: NDArray[np.uint8] | None = None

    @property
    def thin(self) -> NDArray[np.uint8]:
        """Every so manieth column of the luma (`THIN`), made once."""
        if self._thin is None:
            self._thin = np.ascontiguousarray(self.luma[:, ::THIN])
        return self._thin

    def column_steps(self) -> Profile:
        """Return the mean difference of each column to the next, luma levels."""
        if self._columns is None:
            apart = cv2.absdiff(self.luma[:, 1:], self.luma[:, :-1])
            means: Any = cv2.reduce(apart, 0, cv2.REDUCE_AVG, dtype=cv2.CV_32F)
            self._columns = np.asarray(means, np.float32).ravel()
        return self._columns

    def once(self, make: Any) -> NDArray[np.uint8]:
        """Return the map of single pixels that stand out, made once by `make`."""
        if self._sparks is None:
            self._sparks = np.asarray(make(self.luma), np.uint8)
        return self._sparks


def view_of(held: Held) -> View | None:
    """Return the full view of a held picture; None if it cannot be decoded."""
    luma = full_luma(held.form, held.size, held.data)
    if luma is None:
        return None
    return View(luma, luma_quantiser(held.data) if held.form == "mjpeg" else 0)
