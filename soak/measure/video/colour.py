"""The colours of a picture: a small image of it, its cells, and how its three lanes vary."""

from functools import cached_property
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from soak.measure.decode import decode
from soak.measure.video.picture import Form, Held, scale_of

Small = NDArray[np.float32]

CELLS = (32, 18)
"""Cells across and down into which a picture is averaged. Our own choice: a cell is some 60 pixels
of a picture of 1080 rows."""
TO_DIFFERENCES = np.array([[0.5, -0.331264, -0.168736], [-0.081312, -0.418688, 0.5]], np.float64)
"""Cb and Cr of full-range B, G, R. By definition: ITU-T T.871, section 7."""
_TO_DIFFERENCES = TO_DIFFERENCES.T.astype(np.float32)
TO_LUMA = np.array([0.114, 0.587, 0.299], np.float64)
"""Luma of B, G, R. By definition: ITU-R BT.601."""
_COLOUR = {
    1: cv2.IMREAD_COLOR,
    2: cv2.IMREAD_REDUCED_COLOR_2,
    4: cv2.IMREAD_REDUCED_COLOR_4,
    8: cv2.IMREAD_REDUCED_COLOR_8,
}


class Colour:
    """The colour lanes of a picture, blue, green, red, in levels.

    Parameters
    ----------
    small : array of uint8
        The picture made small, shape (rows, columns, 3).

    Attributes
    ----------
    small : array of uint8
        The same.
    cells : array of float32
        Means over 32 x 18 cells, shape (18, 32, 3).
    spread : array of float
        Standard deviation of each lane over the small picture, shape (3,): fine texture counts.
    """

    def __init__(self, small: NDArray[np.uint8]) -> None:
        self.small = small
        cells: Any = cv2.resize(np.asarray(small, np.float32), CELLS, interpolation=cv2.INTER_AREA)
        self.cells: Small = np.asarray(cells, np.float32)
        self.spread: NDArray[np.float64] = np.asarray(cv2.meanStdDev(small)[1], np.float64).ravel()

    @cached_property
    def mean(self) -> NDArray[np.float64]:
        """Mean of each lane, shape (3,)."""
        return np.asarray(self._flat.mean(axis=0), np.float64)

    @cached_property
    def covariance(self) -> NDArray[np.float64]:
        """Covariance of the lanes over the cells, shape (3, 3): noise is averaged out of it."""
        apart = self._flat - self.mean
        return np.asarray(apart.T @ apart / len(apart), np.float64)

    @cached_property
    def cell_spread(self) -> NDArray[np.float64]:
        """Standard deviation of each lane over the cells, shape (3,)."""
        return np.asarray(np.sqrt(np.diag(self.covariance)), np.float64)

    @cached_property
    def differences(self) -> Small:
        """Cb and Cr of the cells, shape (18, 32, 2)."""
        return np.asarray(self.cells @ _TO_DIFFERENCES, np.float32)

    @cached_property
    def difference_mean(self) -> NDArray[np.float32]:
        """Mean of Cb and Cr without its sign, shape (2,)."""
        return np.asarray(np.abs(self.differences.mean(axis=(0, 1))), np.float32)

    @cached_property
    def difference_spread(self) -> NDArray[np.float32]:
        """Standard deviation of Cb and Cr over the cells, shape (2,)."""
        return np.asarray(self.differences.std(axis=(0, 1)), np.float32)

    @cached_property
    def apart(self) -> NDArray[np.float32]:
        """Mean difference of blue and green, blue and red, green and red over the cells."""
        pairs = np.abs(self.cells[..., (0, 0, 1)] - self.cells[..., (1, 2, 2)])
        return np.asarray(pairs.mean(axis=(0, 1)), np.float32)

    @cached_property
    def points(self) -> NDArray[np.int16]:
        """Every fourth pixel each way of the small picture, lanes apart, shape (3, number)."""
        return np.ascontiguousarray(self.small[::4, ::4].reshape(-1, 3).T, np.int16)

    @cached_property
    def _flat(self) -> NDArray[np.float64]:
        return np.asarray(self.cells.reshape(-1, 3), np.float64)


def colour_of(held: Held) -> Colour | None:
    """Return the colours of a held picture, made once; None if it cannot be decoded."""
    if held.colour is None:
        small = small_colour(held.form, held.size, held.data)
        held.colour = None if small is None else Colour(small)
    made = held.colour
    assert made is None or isinstance(made, Colour)
    return made


def small_colour(form: Form, size: tuple[int, int], data: bytes) -> NDArray[np.uint8] | None:
    """Return a picture made small, shape (rows, columns, 3); None if it cannot be decoded."""
    width, rows = size
    scale = scale_of(rows)
    if form == "mjpeg":
        return decode(data, _COLOUR[scale] | cv2.IMREAD_IGNORE_ORIENTATION)
    whole = np.frombuffer(data, np.uint8).reshape(rows, width, -1)[::scale]
    if form == "yuyv":
        sampled: Any = cv2.cvtColor(np.ascontiguousarray(whole), cv2.COLOR_YUV2BGR_YUYV)
        return np.asarray(sampled, np.uint8)
    return np.ascontiguousarray(whole[:, ::scale])


def held_file(file: bytes) -> Held:
    """Return a JPEG or PNG file as a held picture.

    Raises
    ------
    ValueError
        If it cannot be decoded.
    """
    whole = decode(file, cv2.IMREAD_COLOR)
    if whole is None:
        raise ValueError("a taught picture is not a JPEG or PNG file; teach it again")
    return Held("bgr", (whole.shape[1], whole.shape[0]), whole.tobytes())


def colour_of_file(file: bytes) -> Colour:
    """Return the colours of a JPEG or PNG file; raises as `held_file`."""
    colour = colour_of(held_file(file))
    assert colour is not None
    return colour
