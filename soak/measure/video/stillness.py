"""Whether pictures differ by noise alone: by the shape of one change, and by the noise of a run.

Noise forgets: two pictures of a frozen stream differ by as much whether one or thirty lie between
them. Motion adds up. So the changes from one picture to the next tell how much noise there is in
each part of the picture, and a picture that differs by more from the first of its run has moved,
however little. Nothing has to be known of the noise beforehand.
"""

from functools import cached_property
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from soak.measure.video.picture import Form, Grey, Held, cells_over, scale_of

NOISE_SIGMA = 6.0
"""Standard deviation in luma levels above which nothing is called noise. Own choice; a source as
noisy as this is unfit to be sold, and textures in motion begin to look alike."""
BEAR_ON = 2.0
"""Noise of neighbouring pixels is so far alike (side of a square, pixels): an analogue path or a
scaler. Averaging takes it down less than independent noise. Own choice."""
MEAN_OF_TWO = 1.13
"""Mean difference of two values with noise, in standard deviations: 2 / sqrt(pi). By definition."""
LOCAL_RATIO, LOCAL_STEP = 3.5, 1.2
"""The largest local change of a still stays below so many times the middle one and so many luma
levels. Our own choice, measured as below."""
SHIFT_RATIO, SHIFT_STEP = 1.5, 0.8
"""The largest shift of a cell's mean stays below the same of these. Our own choice, measured as
below."""
COHERENT_RATIO, COHERENT_STEP = 0.6, 0.1
"""Noise lies evenly and averages out within a cell; motion is local, or moves a cell as a whole.
Set on noise of sigma 1 to 4 under JPEG quality 60 to 95 over stills of three clips: their largest
local change stayed below 3.2 times the middle one plus 1, their largest shift of a cell's mean
below 2.5; moving pictures of the same clips began at 4. Our own choice."""
STRIPES_FROM, STRIPES = 1.0, 0.45
"""From a mean change of the first, luma levels, rows differ by no more than this share of it. Noise
of sigma 1 to 3 over stills of three contents stayed below 0.25, dim scrolling text under noise
began at 0.59. Measured so; the figures are our own choice."""
NO_NOISE_LUMA = 0.02
"""A row that changes by less on the mean is a black bar, luma levels. Our own choice."""
RUN_SIGMAS, RUN_STEP = 6.0, 0.3
"""A change that is so many standard deviations above the run's own noise in a cell, and so many
luma levels more, is motion. Own choice: 5 standard deviations would do for all cells of a freeze
of a minute if noise were normal and independent; the sixth, and the step, cover what rounding and
a JPEG's quantising make of it."""
SPREAD_OF_CHANGE, SPREAD_OF_MEAN = 0.76, 1.25
"""Standard deviation of |change| of normal noise, sqrt(pi / 2 - 1), and of the change itself,
sqrt(pi / 2), each as a share of the mean |change|. A mean over n places strays by 1 / sqrt(n). By
definition."""

WHOLE_LEVELS = 0.25
"""Where noise changes few places by one level, its variance is that of a share, u (1 - u), which is
at most this, levels squared. By definition of a binomial share."""

Cells = NDArray[np.float32]


class Change:
    """How two pictures differ, in luma levels.

    Only what is asked for is worked out: motion shows in the first figures already.

    Parameters
    ----------
    one, other : array of uint8
        The small grey images, shape (rows, columns).
    cells : (int, int)
        Columns and rows of cells it is divided into.

    Attributes
    ----------
    local : array of float32
        Mean absolute change in each cell.
    places : float
        Places of the small grey image in a cell.
    """

    def __init__(self, one: Grey, other: Grey, cells: tuple[int, int]) -> None:
        self._one = one
        self._other = other
        self._cells = cells
        self.local = _means(self._absolute.astype(np.float32), cells)
        self.places = one.size / self.local.size

    @cached_property
    def middle(self) -> float:
        """Median of `local`."""
        return _middle(self.local)

    @cached_property
    def _absolute(self) -> Grey:
        return np.asarray(cv2.absdiff(self._one, self._other), np.uint8)

    @cached_property
    def shift(self) -> Cells:
        """Absolute change of the mean in each cell."""
        signed: Any = cv2.subtract(self._one, self._other, dtype=cv2.CV_32F)
        return np.abs(_means(signed, self._cells))

    @cached_property
    def even(self) -> bool:
        """Whether it is spread over the rows as noise is; lines of text are not."""
        return _lies_evenly(self._absolute)

    def may_be_noise(self, most: float) -> bool:
        """Tell whether it has the shape of noise, with a middle of at most so many luma levels."""
        largest = float(self.local.max())
        if largest > LOCAL_RATIO * most + LOCAL_STEP:
            return False  # whatever the middle is
        middle = self.middle
        return (
            middle <= most
            and largest <= LOCAL_RATIO * middle + LOCAL_STEP
            and self.even
            and float(self.shift.max()) <= SHIFT_RATIO * middle + SHIFT_STEP
            and _middle(self.shift) <= COHERENT_RATIO * middle + COHERENT_STEP
        )


def change_of(one: Grey, other: Grey) -> Change | None:
    """Return how two small grey images differ; None if they are of different sizes."""
    if one.shape != other.shape:
        return None
    return Change(one, other, cells_over(one))


def surely_moved(now: Held, before: Held) -> bool:
    """Tell by the means of their cells alone that two pictures differ by more than noise.

    Never wrong: `Change.may_be_noise` refuses whatever this does, and takes ten times as long. The
    means are whole levels, each off by half a level at most.
    """
    one = now.cells()
    other = before.cells()
    if one is None or other is None or one.shape != other.shape:
        return False
    most = SHIFT_RATIO * most_noise(now.form, now.size[1]) + SHIFT_STEP
    return cv2.norm(one, other, cv2.NORM_INF) > most + 1


def most_noise(form: Form, rows: int) -> float:
    """Return the largest mean change that may be noise, in luma levels of the small grey image.

    Parameters
    ----------
    rows : int
        Of the whole picture. A JPEG's small image is a mean over squares, which takes noise down;
        the other forms are sampled.
    """
    averaged = max(1.0, scale_of(rows) / BEAR_ON) if form == "mjpeg" else 1.0
    return MEAN_OF_TWO * NOISE_SIGMA / averaged


class RunNoise:
    """The noise of one run of repeats, cell by cell, from the changes between its pictures.

    Attributes
    ----------
    number : int
        Changes taken so far.
    """

    def __init__(self) -> None:
        self._sum: Cells | None = None
        self.number = 0

    def add(self, change: Change) -> None:
        """Take the change from one picture of the run to the next."""
        self._sum = change.local if self._sum is None else self._sum + change.local
        self.number += 1

    @property
    def usual(self) -> Cells | None:
        """Its mean absolute change in each cell, luma levels; None until there is one."""
        return None if self._sum is None else self._sum / np.float32(self.number)

    def explains(self, change: Change) -> bool:
        """Tell whether a change from the first of the run is no larger than that."""
        usual = self.usual
        if usual is None:
            return True
        # A cell that was quiet in the few changes so far need not be quiet: one more counts for it.
        prior = np.float32(_middle(usual))
        usual = np.asarray((usual * self.number + prior) / (self.number + 1), np.float32)
        few = np.sqrt(np.minimum(usual, WHOLE_LEVELS))
        strays = RUN_SIGMAS / np.sqrt(change.places)
        spread = np.maximum(SPREAD_OF_CHANGE * usual, few)
        local = usual + strays * np.sqrt(1 + 1 / self.number) * spread
        if bool(np.any(change.local > local + RUN_STEP)):
            return False
        shift = strays * np.maximum(SPREAD_OF_MEAN * usual, few)
        return not bool(np.any(change.shift > shift + RUN_STEP))


def _means(image: Cells, cells: tuple[int, int]) -> Cells:
    return np.asarray(cv2.resize(image, cells, interpolation=cv2.INTER_AREA), np.float32)


def _lies_evenly(change: Any) -> bool:
    rows = np.asarray(cv2.reduce(change, 1, cv2.REDUCE_AVG, dtype=cv2.CV_32F)).ravel()
    rows = rows[rows > NO_NOISE_LUMA]  # black bars have none
    if not rows.size or float(rows.mean()) < STRIPES_FROM:
        return True
    return float(rows.std()) <= STRIPES * float(rows.mean())


def _middle(cells: Cells) -> float:
    flat = cells.ravel()
    half = flat.size // 2
    return float(np.partition(flat, half)[half])
