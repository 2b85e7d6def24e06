"""Read a QR code in a picture."""

import cv2

from soak.measure.decode import decode

MOST_SEARCHED = 8_000_000
"""Pixels that are searched at once; a larger picture is shrunk to so many, and none is blown up
beyond. Our own choice: a code that fills a fifth of a telephone's picture keeps 5 pixels a cell."""
_SCALES = (1.0, 2.0, 3.0, 4.0, 1.5, 2.5, 3.5, 5.0, 0.5)
"""A shrunk picture is read better when blown up; a huge one when shrunk."""


def read_qr(content: bytes) -> str:
    """Return the text of the first code that can be read, or an empty text.

    OpenCV has two readers, and each reads squeezed codes that the other does not.
    """
    picture = decode(content, cv2.IMREAD_GRAYSCALE)
    if picture is None:
        return ""
    try:
        return _read(picture)
    except cv2.error:  # it is too small to shrink
        return ""


def _read(picture: cv2.typing.MatLike) -> str:
    readers = (cv2.QRCodeDetectorAruco(), cv2.QRCodeDetector())
    most = (MOST_SEARCHED / picture.size) ** 0.5
    for scale in dict.fromkeys(min(scale, most) for scale in _SCALES):
        how = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
        sized = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=how)
        for reader in readers:
            text, corners, _ = reader.detectAndDecode(sized)
            if corners is not None and text:
                return str(text)
    return ""
