"""Colours as a damaged plug or a wrong setting shows them: 17 forms of `tint`.

Lanes are blue, green and red. On an HDMI link lane 0 carries blue or Cb, lane 1 green or Y, lane 2
red or Cr (CTA-861, from memory): taken for the other, G is read as Y, B as Cb and R as Cr.
"""

import cv2
import numpy as np

from judging.content import Image

LANES = ("blue", "green", "red")
FORMS = (
    *(f"{lane} lost" for lane in LANES),
    *(f"{lane} flat" for lane in LANES),
    *(f"{lane} copies {other}" for lane in LANES for other in LANES if other != lane),
    "Cb lost",
    "Cr lost",
    "chroma gone",
    "RGB taken for YCbCr",
    "YCbCr taken for RGB",
)
_MIDDLE = 128


def tinted(image: Image, form: str, level: int) -> Image:
    """Return a picture in wrong colours; `level` is where a flat lane stands."""
    lane, _, what = form.partition(" ")
    if lane in LANES:
        made = image.copy()
        number = LANES.index(lane)
        if what == "lost":
            made[:, :, number] = 0
        elif what == "flat":
            made[:, :, number] = level
        else:
            made[:, :, number] = image[:, :, LANES.index(what.removeprefix("copies "))]
        return made
    return _chroma(image, form)


def _chroma(image: Image, form: str) -> Image:
    if form == "RGB taken for YCbCr":
        taken = np.ascontiguousarray(image[:, :, (1, 2, 0)])  # Y, Cr, Cb are green, red, blue
        return np.asarray(cv2.cvtColor(taken, cv2.COLOR_YCrCb2BGR), np.uint8)
    parts = cv2.cvtColor(image, cv2.COLOR_BGR2YCrCb)
    if form == "YCbCr taken for RGB":
        return np.ascontiguousarray(parts[:, :, (2, 0, 1)])
    if form in ("Cr lost", "chroma gone"):
        parts[:, :, 1] = _MIDDLE
    if form in ("Cb lost", "chroma gone"):
        parts[:, :, 2] = _MIDDLE
    return np.asarray(cv2.cvtColor(parts, cv2.COLOR_YCrCb2BGR), np.uint8)
