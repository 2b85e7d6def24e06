"""Dark but living pictures: a prompt, a lone pointer, stars, a small logo are no black.

What is lost is black all over; what lives has something in it that stands out, however little of
the picture it is. So what passes for black is asked again: first the small grey image, then, where
it shows nothing, the whole picture. That costs a decoding, so packets no larger than those of this
card's own true black are not asked again.
"""

from collections import deque
from typing import Any

import cv2
import numpy as np

from soak.measure.video.fine.view import full_luma
from soak.measure.video.picture import Grey, Held

STANDS_OUT_LUMA = 5.0
"""A place of the small grey image that is so many luma levels brighter than its middle stands out.
Own choice: a JPEG of quality 40 and more leaves black within 2; a small blue logo that has lost its
blue may keep 7."""
PIXEL_STANDS_OUT_LUMA = 24.0
"""The same of a single pixel of the whole picture, luma levels. Own choice: a star of a tenth of
full brightness."""
STANDS_OUT_SIGMAS = 8.0
"""And it stands out of the noise by so many of its standard deviations. Own choice: of two million
places of normal noise the largest reaches 5.3."""
FEWEST_PIXELS = 6
"""So many pixels of the whole picture must stand out. Own choice: a star of 2 x 3 pixels; a flaw of
a single pixel is no picture."""
FEWEST_SAMPLES = 2
"""So many places of a sampled small image: there each is a single pixel. Own choice."""
ACROSS_LUMA, ACROSS_SIGMAS = 0.3, 2.0
"""Cells of a dark scene stray across the picture by more than so many luma levels and so many times
what noise leaves in them. Own choice: made blacks of 0 to 16, noise up to sigma 3 and JPEG quality
60 to 92 stayed below 0.27 and a third of it; photographs at 3 to 8 % of their light began at 0.36.
"""
_CELLS = (32, 18)
"""Cells across and down into which a picture is averaged. Our own choice."""
HUM_LUMA = 80.0
"""Black under bars is no brighter than this on the mean, luma levels. Own choice: bars of a third
of full brightness."""
HUM_WAVES, HUM_SHARE = 5, 0.95
"""So much of what differs from row to row is in so many slow waves over the height. Own choice:
mains hum makes one or two bars and their overtones; a gradient from top to bottom has 0.89."""
KNOWN_BLACKS = 8
"""So many packets last seen black in full tell how large this card's own black is. Own choice."""
MEAN_OF_TWO = 1.128
"""Mean difference of two normal values, in standard deviations: 2 / sqrt(pi). By definition."""


def stands_out(grey: Grey, by_luma: float) -> int:
    """Return how many places are brighter than the middle of a dark picture by luma and noise.

    Parameters
    ----------
    grey : array of uint8
        Shape (rows, columns).
    by_luma : float
        Luma levels; more where the picture's own noise asks for it.
    """
    sigma = noise_of(grey, by_luma)
    counts: Any = cv2.calcHist([np.ascontiguousarray(grey)], [0], None, [256], [0, 256])
    reached = np.cumsum(counts.ravel())
    middle = int(np.searchsorted(reached, grey.size / 2))
    limit = middle + max(by_luma, STANDS_OUT_SIGMAS * sigma)
    return int(grey.size - reached[min(255, int(limit))])


def noise_of(grey: Grey, most: float = STANDS_OUT_LUMA) -> float:
    """Return the standard deviation of a dark picture's noise, from neighbours, luma levels.

    What differs from its neighbour by more than `most` luma levels counts as that.
    """
    beside: Any = cv2.absdiff(grey[:, 1:], grey[:, :-1])
    steps = np.minimum(beside, np.uint8(most))  # what stands out is no noise
    return float(cv2.mean(steps)[0]) / MEAN_OF_TWO


def has_shapes_across(grey: Grey) -> bool:
    """Tell whether a dark picture is uneven from side to side; hum and shading go up and down."""
    cells: Any = cv2.resize(grey.astype(np.float32), _CELLS, interpolation=cv2.INTER_AREA)
    across = float(np.std(cells - cells.mean(axis=1, keepdims=True)))
    left = noise_of(grey) / np.sqrt(grey.size / cells.size)
    return across > ACROSS_LUMA + ACROSS_SIGMAS * float(left)


def is_hum(grey: Grey) -> bool:
    """Tell whether a picture is black but for bars across it, as of a hum on the lines."""
    if float(cv2.mean(grey)[0]) > HUM_LUMA or has_shapes_across(grey):
        return False
    means: Any = cv2.reduce(grey, 1, cv2.REDUCE_AVG, dtype=cv2.CV_32F)
    rows = means.ravel()
    beyond = float(np.max(grey - means))
    if beyond > max(STANDS_OUT_LUMA, STANDS_OUT_SIGMAS * noise_of(grey)):
        return False
    power = np.abs(np.fft.rfft(rows - rows.mean())) ** 2
    slow = float(power[1 : HUM_WAVES + 1].sum())
    return slow > 0 and slow >= HUM_SHARE * float(power.sum())


class TrueBlack:
    """Tells black from dark but living pictures, and learns how large this card's black is."""

    def __init__(self) -> None:
        self._sizes: deque[int] = deque(maxlen=KNOWN_BLACKS)

    def lives(self, held: Held, grey: Grey) -> bool:
        """Tell whether something stands out of a picture that is black by its small image."""
        least = 1 if held.form == "mjpeg" else FEWEST_SAMPLES
        if stands_out(grey, STANDS_OUT_LUMA) >= least or has_shapes_across(grey):
            return True
        if held.form == "mjpeg" and len(held.data) <= self._as_large():
            return False
        luma = full_luma(held.form, held.size, held.data)
        if luma is None or stands_out(luma, PIXEL_STANDS_OUT_LUMA) < FEWEST_PIXELS:
            self._sizes.append(len(held.data))
            return False
        return True

    def _as_large(self) -> int:
        """Return how large a packet of this card's black may be, bytes; 0 until it is known."""
        if len(self._sizes) < KNOWN_BLACKS:
            return 0
        most = max(self._sizes)
        return most + (most - min(self._sizes))
