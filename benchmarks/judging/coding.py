"""From a picture to what a capture card delivers: a JPEG packet (4:2:2) or YUYV bytes."""

from typing import Literal

import cv2

from judging.content import Image

Form = Literal["mjpeg", "yuyv", "bgr"]


def form_of(coding: str) -> Form:
    """Return the form by the name of a coding, such as `"mjpeg-75"`."""
    return "yuyv" if coding == "yuyv" else "mjpeg"


def coded(image: Image, coding: str) -> bytes:
    """Return a picture as the card would hand it over."""
    if coding == "yuyv":
        return bytes(cv2.cvtColor(image, cv2.COLOR_BGR2YUV_YUY2).tobytes())
    return as_jpeg(image, int(coding.partition("-")[2]))


def as_jpeg(image: Image, quality: int) -> bytes:
    """Return a JPEG picture of a quality from 0 to 100."""
    how = [
        cv2.IMWRITE_JPEG_QUALITY,
        quality,
        cv2.IMWRITE_JPEG_SAMPLING_FACTOR,
        cv2.IMWRITE_JPEG_SAMPLING_FACTOR_422,
    ]
    ok, packet = cv2.imencode(".jpg", image, how)
    if not ok:
        raise ValueError("the picture could not be coded")
    return bytes(packet.tobytes())
