"""The card's own no-signal pictures, taught beforehand, and whether a picture shows one of them."""

from collections.abc import Sequence

import cv2
import numpy as np

from soak.measure.video.picture import Form, Grey, Luma, small_grey

ALIKE_MEAN, ALIKE_CELL = 3.0, 16.0
"""Largest mean and largest local difference, in luma levels, to a taught picture. Own choice: the
card's own no-signal picture comes back but for its encoder's noise."""


class TaughtPictures:
    """Holds taught pictures at the scale that pictures are judged at.

    Parameters
    ----------
    files : sequence of bytes
        JPEG or PNG files, in full range.

    Raises
    ------
    ValueError
        If one cannot be decoded.
    """

    def __init__(self, files: Sequence[bytes]) -> None:
        # A JPEG is averaged as it is decoded small, raw forms are sampled: fine text differs.
        averaged = tuple(_grey(file, "mjpeg") for file in files)
        sampled = tuple(_grey(file, "bgr") for file in files)
        self._greys: dict[tuple[bool, Luma], tuple[Grey, ...]] = {
            (True, "full"): averaged,
            (True, "limited"): tuple(map(_limited, averaged)),
            (False, "full"): sampled,
            (False, "limited"): tuple(map(_limited, sampled)),
        }

    def shows(self, grey: Grey, form: Form, luma: Luma) -> bool:
        """Tell whether a picture's small grey image shows one of them."""
        return any(are_alike(grey, one) for one in self._greys[form == "mjpeg", luma])


def are_alike(one: Grey, other: Grey) -> bool:
    """Tell whether two pictures are the same but for an encoder's noise; sizes may differ."""
    if one.shape != other.shape:
        rows, columns = one.shape
        other = np.asarray(cv2.resize(other, (columns, rows), interpolation=cv2.INTER_AREA))
    if cv2.norm(one, other, cv2.NORM_L1) > ALIKE_MEAN * one.size:
        return False
    apart = cv2.absdiff(one, other).astype(np.float32)
    return float(np.max(cv2.resize(apart, (16, 9), interpolation=cv2.INTER_AREA))) <= ALIKE_CELL


def _limited(grey: Grey) -> Grey:
    return np.round(16 + grey * (219 / 255)).astype(np.uint8)


def _grey(file: bytes, form: Form) -> Grey:
    whole = cv2.imdecode(np.frombuffer(file, np.uint8), cv2.IMREAD_COLOR) if file else None
    if whole is None:
        raise ValueError("a taught picture is not a JPEG or PNG file; teach it again")
    size = (whole.shape[1], whole.shape[0])
    grey = small_grey(form, size, file if form == "mjpeg" else whole.tobytes())
    assert grey is not None
    return grey
