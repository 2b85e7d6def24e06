"""What a fault does to a picture, before the capture's noise and coding."""

import cv2
import numpy as np
from numpy.random import Generator

from judging.coding import as_jpeg
from judging.content import Image, Size
from judging.faults import CARDS, Fault

_BLACK_SIGMA = 3.0
_TAUGHT_QUALITY = 92
_SYNC_PIXELS = 60
_BARS = (
    (235, 235, 235),
    (0, 235, 235),
    (235, 235, 0),
    (0, 235, 0),
    (235, 0, 235),
    (0, 0, 235),
    (235, 0, 0),
)


def blackened(size: Size, fault: Fault, number: int, rng: Generator) -> Image:
    """Return black as a unit or a cable gives it: level 0 or 16, noisy, or with hum bars over it.

    Hum: two lighter bars that wander down, as mains hum lays over a line without a picture.
    """
    shape = (size[1], size[0], 3)
    if fault.form in ("0", "16"):
        return np.full(shape, int(fault.form), np.uint8)
    if fault.form == "noisy":
        small = rng.normal(5, _BLACK_SIGMA, (size[1] // 2, size[0] // 2, 1))
        grey = np.clip(small, 0, 255).astype(np.uint8)
        return np.asarray(cv2.cvtColor(cv2.resize(grey, size), cv2.COLOR_GRAY2BGR), np.uint8)
    rows = np.arange(size[1]) / size[1]
    bars = float(fault.given["hum"]) * (1 + np.sin(2 * np.pi * (2 * rows - number / 50))) / 2
    return np.ascontiguousarray(np.broadcast_to(bars.astype(np.uint8)[:, None, None], shape))


class Card:
    """A capture card's own pictures: a blue of its own, bars, or snow."""

    def __init__(self, size: Size, rng: Generator) -> None:
        self.size = size
        self._blue = (
            int(rng.integers(150, 256)),
            int(rng.integers(0, 50)),
            int(rng.integers(0, 30)),
        )

    def picture(self, form: str, number: int, rng: Generator) -> Image:
        """Return what it shows without a signal."""
        width, rows = self.size
        if form == "snow":
            grey = rng.integers(0, 256, (rows // 2, width // 2), np.uint8)
            snow = cv2.resize(grey, self.size, interpolation=cv2.INTER_NEAREST)
            return np.asarray(cv2.cvtColor(snow, cv2.COLOR_GRAY2BGR), np.uint8)
        if form == "colour bars":
            places = np.arange(width) * len(_BARS) // width
            line = np.array(_BARS, np.uint8)[places]
            return np.ascontiguousarray(np.broadcast_to(line, (rows, width, 3)))
        gain = 0.8 if form == "blue a fifth darker" else 1.0
        image = np.full((rows, width, 3), np.array(self._blue) * gain, np.uint8)
        if form == "blue with a box":
            left = int((0.5 + 0.4 * np.sin(number / 25)) * width * 0.8)
            top = int((0.5 + 0.4 * np.cos(number / 40)) * rows * 0.85)
            far = (left + width // 6, top + rows // 9)
            cv2.rectangle(image, (left, top), far, (230, 230, 230), -1)
        return image

    def taught(self, forms: set[str]) -> tuple[bytes, ...]:
        """Return what `soak teach` would have kept: plain blue always, the others where shown."""
        rng = np.random.default_rng(0)
        shown = [CARDS[0], *sorted(forms & {"blue with a box", "colour bars"})]
        return tuple(as_jpeg(self.picture(form, 0, rng), _TAUGHT_QUALITY) for form in shown)


def torn(image: Image, fault: Fault, rng: Generator) -> Image:
    """Shift rows sideways: from one row on or in a band, standing or elsewhere in each picture."""
    made = image.copy()
    rows = image.shape[0]
    pixels = int(fault.given["pixels"])
    if fault.form == "line sync":
        steps = np.cumsum(rng.normal(0, 4, rows))
        shifts = np.clip(steps - steps.mean(), -_SYNC_PIXELS, _SYNC_PIXELS).astype(int)
        columns = (np.arange(image.shape[1])[None, :] - shifts[:, None]) % image.shape[1]
        return np.ascontiguousarray(image[np.arange(rows)[:, None], columns])
    start = float(fault.given["from"])
    if "changing" in fault.form:
        start = float(rng.uniform(0.05, 0.8))
    top = int(start * rows)
    bottom = rows
    if fault.form.startswith("band"):
        bottom = min(rows, top + max(4, int(float(fault.given["high"]) * rows)))
    made[top:bottom] = np.roll(image[top:bottom], pixels, axis=1)
    return made


def sparkling(image: Image, fault: Fault, rng: Generator) -> Image:
    """Put single pixels or short dashes of white, black or turned bits all over a picture."""
    made = image.copy()
    rows, columns = image.shape[:2]
    wanted = float(fault.given["share"]) * rows * columns
    longest = 12 if fault.form == "dashes" else 1
    while wanted > 0:
        length = int(rng.integers(3, longest + 1)) if longest > 1 else 1
        count = max(1, int(wanted / length / 3)) if longest > 1 else max(1, int(wanted))
        row = rng.integers(0, rows, count)
        column = rng.integers(0, columns - length, count)
        kind = rng.integers(0, 3, count)
        for reach in range(length):
            place = (row, column + reach)
            pixels = image[place]
            inverted = 255 - pixels
            value = np.where(kind[:, None] == 0, 255, np.where(kind[:, None] == 1, 0, inverted))
            made[place] = value.astype(np.uint8)
        wanted -= count * length
    return made
