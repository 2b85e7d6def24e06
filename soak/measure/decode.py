"""Decode a picture that somebody else made."""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray


def decode(content: bytes, flags: int) -> NDArray[np.uint8] | None:
    """Return a picture's pixels; None if it is damaged, empty or larger than `soak.MOST_PIXELS`.

    Parameters
    ----------
    flags : int
        As OpenCV's `imread` has them.
    """
    try:
        decoded: Any = cv2.imdecode(np.frombuffer(content, np.uint8), flags)
    except cv2.error:  # so says OpenCV of what is empty, and of what is too large
        return None
    return None if decoded is None else np.asarray(decoded, np.uint8)
