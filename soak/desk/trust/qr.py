"""Read a QR code in a picture."""

import cv2
import numpy as np

MOST_PIXELS = 64_000_000
"""A larger picture is not searched. Telephones make 12 to 50 megapixels (common practice)."""
_SCALES = (1.0, 2.0, 3.0, 4.0, 1.5, 2.5, 3.5, 5.0, 0.5)
"""A shrunk picture is read better when blown up; a huge one when shrunk."""


def read_qr(content: bytes) -> str:
    """Return the text of the first code that can be read, or an empty text.

    OpenCV has two readers, and each reads squeezed codes that the other does not.
    """
    try:
        return _read(cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_GRAYSCALE))
    except cv2.error:  # it is empty, too small to shrink, or says that it is larger than can be
        return ""


def _read(picture: cv2.typing.MatLike | None) -> str:
    if picture is None or picture.size > MOST_PIXELS:
        return ""
    readers = (cv2.QRCodeDetectorAruco(), cv2.QRCodeDetector())
    for scale in _SCALES:
        sized = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)
        for reader in readers:
            text, corners, _ = reader.detectAndDecode(sized)
            if corners is not None and text:
                return str(text)
    return ""
