"""A photograph that goes with a reading: a picture and nothing else, small enough to keep.

A telephone writes into its photographs where and when they were taken and by which device; a report
travels to strangers. So the picture is decoded and written anew.
"""

import cv2
import numpy as np

LONGEST_SIDE = 1600
"""Pixels of the longer side that are kept. Our own choice: a display still reads well."""
MOST_BYTES = 64 << 20
"""A larger file is refused: a photograph takes some MB. Our own choice."""
_QUALITY = 88
"""JPEG quality that is kept: small print stays legible. Our own choice."""


def prepared(content: bytes) -> bytes:
    """Return a photograph as a JPEG upright by its own note, shrunk, without any other note.

    Parameters
    ----------
    content : bytes
        A JPEG or PNG file.

    Raises
    ------
    ValueError
        If it is no picture that can be read, or an unreasonably large file.
    """
    if len(content) > MOST_BYTES:
        raise ValueError(f"is larger than {MOST_BYTES >> 20} MiB")
    if not content.startswith((b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n")):
        raise ValueError("is neither JPEG nor PNG")
    picture = cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_COLOR)
    if picture is None:
        raise ValueError("is damaged")
    height, width = picture.shape[:2]
    share = LONGEST_SIDE / max(height, width)
    if share < 1:
        size = (max(1, round(width * share)), max(1, round(height * share)))
        picture = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    _, encoded = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
    return encoded.tobytes()
