"""One held picture: its small grey image, and whether it is black or a taught picture.

All judging is done on a small grey image of about 67 to 135 rows. A JPEG is decoded straight to
that scale, YUYV is sampled without conversion, BGR is sampled before it is converted.
"""

import math
from typing import Any, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

from soak.measure.decode import decode

Grey = NDArray[np.uint8]
"""A small grey image, shape (rows, columns), luma 0 to 255."""

Form = Literal["mjpeg", "yuyv", "bgr"]

Luma = Literal["full", "limited"]
"""Range of luma: 0 to 255, or 16 to 235 (ITU-R BT.601)."""

NOISE = "noise"
"""What a single picture may be; a state only as `no signal`, once a second one says the same."""

BLACK_SHARE = 0.98
"""Share of pixels that must be black: default of the filter `blackdetect` of ffmpeg."""
BLACK_LEVEL = 0.10
"""Height above black as a share of the luma range that still is black: default of `blackdetect`
(threshold = min + 0.10 x range, so 37.9 in limited and 25.5 in full range); EBU QC item 0016B
gives 10.5 % in its example."""
BLACK_STRUCTURE = 1.2
"""Largest spread (standard deviation, luma levels) of a black picture after averaging to 16 x 9.
Own choice: a lost picture is flat, a dark scene just above black has shapes in it. Averaging
takes the noise out: sigma 4 becomes 1 already where a cell holds 16 pixels."""
RANGE: dict[Luma, tuple[float, float]] = {"full": (0.0, 255.0), "limited": (16.0, 235.0)}
"""Levels of black and white in a stream's range of luma. By definition: ITU-R BT.601."""
_REDUCED = {
    1: cv2.IMREAD_GRAYSCALE,
    2: cv2.IMREAD_REDUCED_GRAYSCALE_2,
    4: cv2.IMREAD_REDUCED_GRAYSCALE_4,
    8: cv2.IMREAD_REDUCED_GRAYSCALE_8,
}


def black_limit(luma: Luma) -> float:
    """Return the luma up to which a pixel is black, by the formula of `BLACK_LEVEL`."""
    low, high = RANGE[luma]
    return low + BLACK_LEVEL * (high - low)


def scale_of(rows: int) -> int:
    """Return the reduction 1, 2, 4 or 8 that leaves at least 67 rows where there are as many."""
    return next((scale for scale in (8, 4, 2) if rows // scale >= 67), 1)


def small_grey(form: Form, size: tuple[int, int], data: bytes) -> Grey | None:
    """Return the small grey image of a picture; None if it cannot be decoded.

    Parameters
    ----------
    size : (int, int)
        Width and height in pixels.
    """
    width, rows = size
    scale = scale_of(rows)
    if form == "mjpeg":
        return decode(data, _REDUCED[scale] | cv2.IMREAD_IGNORE_ORIENTATION)
    depth = 2 if form == "yuyv" else 3
    if len(data) != width * rows * depth or not data:
        return None
    whole = np.frombuffer(data, np.uint8).reshape(rows, width, depth)
    sampled = whole[scale // 2 :: scale, scale // 2 :: scale]
    if form == "yuyv":
        return np.ascontiguousarray(sampled[:, :, 0])
    return np.asarray(cv2.cvtColor(np.ascontiguousarray(sampled), cv2.COLOR_BGR2GRAY), np.uint8)


def cells_over(grey: Grey) -> tuple[int, int]:
    """Return into how many columns and rows of cells a small grey image is divided."""
    return (32, 18) if grey.shape[1] >= 160 else (16, 9)


def is_black(grey: Grey, limit: float) -> bool:
    """Tell whether a picture is black: nearly all of it below `limit`, and flat."""
    # Compared as whole numbers, which is the same and four times as fast.
    if np.count_nonzero(grey > math.floor(limit)) > (1 - BLACK_SHARE) * grey.size:
        return False
    cells = cv2.resize(grey.astype(np.float32), (16, 9), interpolation=cv2.INTER_AREA)
    return float(np.std(cells)) <= BLACK_STRUCTURE


class Held:
    """A picture kept beyond the call it came in, with what has been found out about it.

    An exact repeat shares the object, so nothing is worked out twice.

    Attributes
    ----------
    verdict : str or None
        What it is by itself, once that was asked.
    asked : bool
        Whether its turn came to be judged; that the fine check has decoded it is no matter.
    bars : bool
        Whether it is black but for bars across it.
    """

    __slots__ = (
        *("_cells", "_grey", "_mean", "asked", "bars", "colour", "data", "form", "size", "verdict"),
    )

    def __init__(self, form: Form, size: tuple[int, int], data: bytes) -> None:
        self.form = form
        self.size = size
        self.data = data
        self.verdict: str | None = None
        self.asked = False
        self.bars = False
        self.colour: object = None
        """What `colour.colour_of` made of it, once."""
        self._grey: Grey | None = None
        self._cells: Grey | None = None
        self._mean: float | None = None

    @property
    def looked_at(self) -> bool:
        """Whether its grey image has been made."""
        return self._grey is not None

    def grey(self) -> Grey | None:
        """Return its small grey image, made once; None if it cannot be decoded."""
        if self._grey is None:
            self._grey = small_grey(self.form, self.size, self.data)
        return self._grey

    def cells(self) -> Grey | None:
        """Return the means of its cells (`cells_over`), made once; None if it cannot be decoded."""
        if self._cells is None and (grey := self.grey()) is not None:
            means: Any = cv2.resize(grey, cells_over(grey), interpolation=cv2.INTER_AREA)
            self._cells = np.asarray(means, np.uint8)
        return self._cells

    def mean_luma(self) -> float:
        """Return its mean luma, 0 to 255; 0 if it cannot be decoded."""
        if self._mean is None:
            grey = self.grey()
            self._mean = 0.0 if grey is None else float(cv2.mean(grey)[0])
        return self._mean

    def as_jpeg(self) -> bytes:
        """Return it as a JPEG file; a packet is kept as it came, empty if it cannot be written."""
        if self.form == "mjpeg":
            return self.data
        width, rows = self.size
        image: Any = np.frombuffer(self.data, np.uint8).reshape(rows, width, -1)
        if self.form == "yuyv":
            image = cv2.cvtColor(image, cv2.COLOR_YUV2BGR_YUYV)
        written, packet = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, 90])
        return packet.tobytes() if written else b""
