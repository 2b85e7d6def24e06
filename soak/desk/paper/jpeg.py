"""Make a JPEG of a picture, small enough for where it is to be shown."""

from soak.errors import UsageError
from soak.words import msg

QUALITIES = (90, 82, 74, 66, 58)
"""Tried in this order; text stays legible down to the last."""


def to_jpeg(png: bytes, most_bytes: int) -> bytes:
    """Return a picture as JPEG of at most `most_bytes`, the best that fits.

    Raises
    ------
    UsageError
        If it cannot be made so small.
    """
    import cv2

    from soak.measure.decode import decode

    image = decode(png, cv2.IMREAD_COLOR)
    if image is None:
        raise UsageError(msg("the listing picture cannot be made again as JPEG"))
    for quality in QUALITIES:
        _, made = cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, quality])
        if made.size <= most_bytes:
            return bytes(made.tobytes())
    raise UsageError(
        msg(
            "the listing picture cannot be made smaller than {most_bytes} bytes",
            most_bytes=most_bytes,
        )
    )
