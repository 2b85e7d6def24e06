"""Noise that fills the picture: what some cards deliver at full rate when nothing comes in.

Such noise has no neighbour like itself, lies evenly over the picture, is strong, and is another
in the next picture. Content is never all of that at once.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import cv2
import numpy as np

from soak.measure.video.intake import Arrived
from soak.measure.video.picture import Form, Grey, scale_of
from soak.states import NO_SIGNAL, PICTURE

FEWEST_ROWS = 120
"""Smaller pictures are not judged: no card delivers less, and little can be told in them. Our own
choice."""
LEAST_LUMA = 16.0
"""Least standard deviation of the whole picture's luma, levels. Own choice: two and a half times
what the noisiest source leaves on a plain picture; noise without a source has 33 and more where it
fills the range (measured on noise as below), and 23 where it fills 80 levels."""
ANEW = 0.1
"""Largest correlation with the noise of the picture before. Own choice: white noise is within 0.03
of none, a scrolling texture sampled far apart kept 0.13."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Largest correlation of a place with one beside it, with one below, and with one 3 further.

    Attributes
    ----------
    uneven : float
        Largest spread of the means over 16 x 9 cells, in the spread that chance gives.

    Notes
    -----
    Own choice. Set on made noise: white, coloured, one line shifted anew in each row, and
    band-limited as of an analogue tuner, blown up to 1080 rows, each raw and as JPEG of
    quality 20 to 90: raw .25, .01, .02, 1.3; decoded small .40, .19, .05, 2.3. Nearest content were
    stills of grass and gravel under noise of sigma 30: raw .17, .17, .05, 1.7; decoded .50, .49,
    .09, 2.7.
    """

    beside: float
    below: float
    further: float
    uneven: float


RAW = Limits(beside=0.35, below=0.12, further=0.10, uneven=1.5)
AVERAGED = Limits(beside=0.50, below=0.30, further=0.12, uneven=2.6)
MOVED = 0.35
"""Largest response of a phase correlation between two noises. Own choice: pairs of white noise
under JPEG quality 30 to 85 at three sizes gave 0.16 at most, scrolled binary textures 0.77 at
least."""
STANDS_FOR = 4
"""So many pictures in a row with the same noise are a texture. Own choice."""
ANEW_TIMES = 2
"""So often the noise must have become another: once is a cut within a texture. Our own choice."""
_APART = 3
"""Noise of places so many pixels apart is not alike, while shapes are. Our own choice: a capture
card smears neighbours."""
_CELLS = (16, 9)
"""Cells across and down into which a picture is averaged: noise averages out, shapes stay. Our own
choice."""


def is_noise(grey: Grey, form: Form, rows: int) -> bool:
    """Tell whether a picture's small grey image may be noise and nothing else.

    Parameters
    ----------
    rows : int
        Of the whole picture.
    """
    if rows < FEWEST_ROWS:
        return False
    # A decoder's small image is a mean over scale x scale pixels, which takes white noise down.
    least = LEAST_LUMA
    limits = RAW
    if form == "mjpeg":
        least = LEAST_LUMA / scale_of(rows)
        limits = AVERAGED
    spread = float(cv2.meanStdDev(grey)[1][0, 0])
    if spread < least or _alike(grey[:, 1:], grey[:, :-1], spread) > limits.beside:
        return False
    if _alike(grey[1:], grey[:-1], spread) > limits.below:
        return False
    apart = (
        _alike(grey[:, _APART:], grey[:, :-_APART], spread),
        _alike(grey[_APART:], grey[:-_APART], spread),
    )
    if max(map(abs, apart)) > limits.further:
        return False
    cells = cv2.resize(grey.astype(np.float32), _CELLS, interpolation=cv2.INTER_AREA)
    by_chance = spread / np.sqrt(grey.size / cells.size)
    return bool(cells.std() <= limits.uneven * by_chance)


def is_fresh(now: Grey, before: Grey) -> bool:
    """Tell whether the noise is another than that of the picture before; a texture stays or moves.

    References
    ----------
    Kuglin and Hines, "The phase correlation image alignment method", Proc. IEEE Int. Conf. on
    Cybernetics and Society (1975) 163-165; computed by OpenCV's `phaseCorrelate`.
    """
    if now.shape != before.shape:
        return False
    spread = float(cv2.meanStdDev(now)[1][0, 0])
    if not spread or abs(_alike(now, before, spread)) > ANEW:
        return False
    one, other = (np.subtract(grey, grey.mean(), dtype=np.float32) for grey in (now, before))
    _, response = cv2.phaseCorrelate(one, other, _window(now.shape[::-1]))
    return float(response) <= MOVED


@lru_cache(maxsize=4)
def _window(size: tuple[int, int]) -> Any:
    return cv2.createHanningWindow(size, cv2.CV_32F)


def _alike(one: Grey, other: Grey, spread: float) -> float:
    """Return the correlation of two images of one spread: 1 - E[(a - b)^2] / (2 sigma^2)."""
    return 1.0 - float(cv2.norm(one, other, cv2.NORM_L2SQR)) / (2 * one.size * spread**2)


class NoiseRun:
    """Tells noise that fills picture after picture from a texture that stands still."""

    def __init__(self) -> None:
        self._since: Arrived | None = None
        self._before: Grey | None = None
        self._anew: Arrived | None = None
        self._is = ""
        self._stood = 0
        self._times = 0

    def rest(self) -> None:
        """Forget the run: this picture is no noise."""
        self._since = self._before = self._anew = None
        self._is = ""
        self._stood = 0
        self._times = 0

    def see(self, arrived: Arrived) -> tuple[str, float, float] | None:
        """Take a picture that may be noise; return what it is, since when and within what, s.

        None: nothing can be said yet. One such picture may be a texture, and where pictures repeat,
        noise stands for a few.
        """
        now = arrived.held.grey()
        before = self._before
        self._before = now
        if before is None or self._since is None or now is None:
            self._since = arrived
            return None
        was = self._is
        fresh = is_fresh(now, before)
        self._stood = 0 if fresh else self._stood + 1
        self._times = 0 if self._stood >= STANDS_FOR else self._times + fresh
        if fresh and self._times == 1:
            self._anew = arrived
        if self._stood >= STANDS_FOR:
            self._is = PICTURE
        elif self._times >= ANEW_TIMES:
            self._is = NO_SIGNAL
        if not self._is:
            return None
        if was and self._is != was:
            self._since = self._anew if self._is == NO_SIGNAL and self._anew else arrived
        since = arrived if was == self._is == PICTURE else self._since
        return self._is, since.t_s, since.gap_s
