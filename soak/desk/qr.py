"""Read a QR code in a picture."""

import cv2
import numpy as np

_SCALES = (1.0, 2.0, 3.0, 4.0, 0.5)
"""A shrunk picture is read better when blown up; a huge one when shrunk."""


def read_qr(content: bytes) -> str:
    """Return the text of the first code that can be read, or an empty text."""
    picture = cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_GRAYSCALE)
    if picture is None:
        return ""
    detector = cv2.QRCodeDetector()
    for scale in _SCALES:
        sized = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_CUBIC)
        text, corners, _ = detector.detectAndDecode(sized)
        if corners is not None and text:
            return str(text)
    return ""
