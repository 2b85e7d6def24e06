"""Sparkle: single pixels, or dashes of one row, that flash for one picture and are gone.

Texture, text and stars hold such, too. A spark differs from them by being alone in space and in
time: nothing as large is near it, neither in this picture nor in the one before, where a moving
detail would have to come from.
"""

from collections import deque
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from soak.measure.video.fine.view import View
from soak.measure.video.intake import Arrived

STANDS_OUT_LUMA = 14
"""A spark is so much brighter or darker than what is above and below it, and a single pixel than
what is left and right of it. Own choice: noise of sigma 4 under JPEG quality 60 to 92 has no such
pixels that are alone."""
LONGEST_DASH, GAP_IN_DASH = 48, 2
"""A dash is up to so many pixels long, and its pixels so few apart. Own choice: longer ones are
rules of a page, and a JPEG leaves every second pixel of a faint one."""
REACH, OWN = 5, 2
"""Around a spark, to so many pixels each way, nothing else stands out; so many pixels each way are
its own: a JPEG smears it, chroma of half size twice as far. Our own choice."""
ALONE = 0.5
"""What else is there is less than this share of the spark's height. Our own choice."""
CUT_LUMA = 10.0
"""Median change of luma from which a picture does not continue the one before: after a cut
everything is new. Own choice."""
GRID = 8
"""The picture is looked at in GRID x GRID cells: sparks fall everywhere, texture lies somewhere.
Our own choice."""
_FEWEST, _SHARE = 8.0, 5e-6
"""At least so many sparks, and so many for each pixel: of one in 10 000, JPEG quality 60 and a
noisy picture left one in ten to be seen (least of 24 contents). Measured so; the figures are our
own choice."""
TIMES_USUAL, SIGMAS = 2.0, 4.0
"""And so many times the stream's usual number, and so many of its standard deviations (Poisson).
Our own choice."""
SCATTERED, FEWEST_CELLS, HEAPED = 0.4, 6, 0.3
"""Of the cells that so many evenly scattered sparks would hit, this share must be hit, and so many
at least; none holds more than the third. Own choice: text leaves sparks to be seen between its
lines only, glitter and explosions lie somewhere."""
_KNOWN = 3
"""From so many pictures on the stream's usual is known. Our own choice."""
EARLY_TIMES, EARLY_SCATTERED, EARLY_HEAPED, EARLY_PICTURES = 3.0, 0.7, 0.15, 4
"""Until then a stream sparkles where so many times the fewest sparks hit the second share of the
cells that chance would, none holds more than the third, in so many pictures one after the other: a
noisy pan has one such picture. Our own choice."""
_MOST_CANDIDATES = 1200
"""Of more places that stand out so many are looked at, evenly chosen, and the number found is
scaled. Our own choice."""
SUMMED, FEWEST_EACH, SUMMED_TIMES = 4, 3.0, 2.0
"""Few sparks are counted over so many pictures: each has so many at least, and together they are so
many times the fewest. Own choice: dashes are fewer than dots where as many pixels are wrong."""
JUMPED_SHARE = 0.5
"""Where after a clean picture so large a share of the new sparks has gone elsewhere, the content's
own dots have jumped. Own choice: of sparks that begin none has gone, of stars all."""
_NEAR = 4
"""Of what is around a spark eight places so far away are asked first, pixels. Our own choice."""
_SIDE = np.arange(-REACH, REACH + 1)
_DOWN, _RIGHT = (axis.ravel() for axis in np.mgrid[-REACH : REACH + 1, 0 : _SIDE.size])
_AROUND = np.maximum(np.abs(_DOWN), np.abs(_SIDE[_RIGHT])) > OWN

Cells = NDArray[np.float64]
Places = NDArray[np.intp]


def standing_out(luma: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Return a map, 255 where a pixel stands out from those above and below it, else 0."""
    above = luma[:-2]
    below = luma[2:]
    high: Any = cv2.subtract(luma[1:-1], cv2.max(above, below))
    low: Any = cv2.subtract(cv2.min(above, below), luma[1:-1])
    made = np.zeros_like(luma)
    made[1:-1] = cv2.threshold(cv2.max(high, low), STANDS_OUT_LUMA, 255, cv2.THRESH_BINARY)[1]
    return made


@dataclass(frozen=True, slots=True)
class _Dashes:
    """Places that stand out: rows, and first and last columns; a single pixel is a short dash."""

    rows: Places
    first: Places
    last: Places

    def only(self, which: Any) -> "_Dashes":
        """Return some of them."""
        return _Dashes(self.rows[which], self.first[which], self.last[which])


def fresh_sparks(now: View, before: View) -> Cells:
    """Return how many sparks are new since the picture before, in each cell, shape (64,)."""
    dashes = _new_dashes(now, before)
    dashes = dashes.only(_may_be_alone(now.luma, before.luma, dashes))
    height, width = now.luma.shape
    thinned = max(1.0, dashes.rows.size / _MOST_CANDIDATES)
    if thinned > 1.0:
        dashes = dashes.only(np.linspace(0, dashes.rows.size - 1, _MOST_CANDIDATES).astype(np.intp))
    if not dashes.rows.size or is_cut(now, before):
        return np.zeros(GRID * GRID)
    dashes = dashes.only(_are_alone(now.luma, before.luma, dashes))
    cells = dashes.rows * GRID // height * GRID + dashes.first * GRID // width
    return np.asarray(np.bincount(cells, minlength=GRID * GRID) * thinned, np.float64)


def _new_dashes(now: View, before: View) -> _Dashes:
    """Return where pixels stand out where none did in the picture before, by the row."""
    sparks = now.once(standing_out)
    # Fine texture of the content stands where it stood, or a pixel beside it.
    stood = cv2.dilate(before.once(standing_out), np.ones((3, 3), np.uint8))
    points: Any = cv2.findNonZero(cv2.bitwise_and(sparks, cv2.bitwise_not(stood)))
    none = np.zeros(0, np.intp)
    if points is None:
        return _Dashes(none, none, none)
    columns, rows = np.asarray(points, np.intp).reshape(-1, 2).T
    moved = cv2.absdiff(now.luma, before.luma)[rows, columns] > STANDS_OUT_LUMA
    rows = rows[moved]
    columns = columns[moved]
    if not rows.size:
        return _Dashes(none, none, none)
    begins = np.ones(rows.size, bool)
    begins[1:] = (rows[1:] != rows[:-1]) | (columns[1:] - columns[:-1] > GAP_IN_DASH)
    starts = np.flatnonzero(begins)
    ends = np.append(starts[1:], rows.size) - 1
    dashes = _Dashes(rows[starts], columns[starts], columns[ends])
    height, width = now.luma.shape
    inside = (dashes.rows >= REACH) & (dashes.rows < height - REACH)
    inside &= (dashes.first >= REACH) & (dashes.last < width - REACH)
    inside &= dashes.last - dashes.first < LONGEST_DASH
    dashes = dashes.only(inside)
    return dashes.only((dashes.first < dashes.last) | _single(now.luma, dashes))


def _single(luma: NDArray[np.uint8], dashes: _Dashes) -> NDArray[np.bool_]:
    """Tell which single pixels stand out of those left and right of them, too."""
    own = luma[dashes.rows, dashes.first].astype(np.int16)
    beside = [luma[dashes.rows, dashes.first + by].astype(np.int16) for by in (-1, 1)]
    return np.asarray(
        np.minimum(*(np.abs(own - other) for other in beside)) > STANDS_OUT_LUMA, np.bool_
    )


def is_cut(now: View, before: View) -> bool:
    """Tell whether a picture does not continue the one before, so that nothing can be new in it."""
    apart = cv2.absdiff(now.luma[::16, ::16], before.luma[::16, ::16])
    return float(np.median(apart)) > CUT_LUMA


def _may_be_alone(
    now: NDArray[np.uint8], before: NDArray[np.uint8], dashes: _Dashes
) -> NDArray[np.bool_]:
    """Tell which dashes are worth asking in full: by eight places about each."""
    middle = (dashes.first + dashes.last) // 2
    columns = (dashes.first - _NEAR, middle, dashes.last + _NEAR)
    places = [
        (dashes.rows + down, column)
        for down in (-_NEAR, 0, _NEAR)
        for column in columns
        if down or column is not middle
    ]
    there = np.stack([now[place] for place in places]).astype(np.int16)
    ground = np.sort(there, axis=0)[len(places) // 2]
    height = _height(now, dashes, ground)
    earlier = np.abs(before[dashes.rows, middle] - ground)
    others = np.maximum(np.abs(there - ground).max(axis=0), earlier)
    # The middle of all around, which is asked in full, may be another one than that of the eight.
    return np.asarray(others * (1 - ALONE) <= ALONE * height, np.bool_)


def _height(luma: NDArray[np.uint8], dashes: _Dashes, ground: Any) -> Any:
    """Return how far dashes stand out of their ground, luma levels; a JPEG rings at their ends."""
    middle = (dashes.first + dashes.last) // 2
    ends = np.stack([luma[dashes.rows, at] for at in (dashes.first, middle, dashes.last)])
    return np.abs(ends - ground).max(axis=0)


def _are_alone(
    now: NDArray[np.uint8], before: NDArray[np.uint8], dashes: _Dashes
) -> NDArray[np.bool_]:
    """Tell of each place whether all around it, and all there before, is low beside it."""
    long = (dashes.last - dashes.first)[:, None]
    # As many columns along a dash as there are about a pixel, and those beyond either end.
    along = dashes.first[:, None] + _SIDE + (long * np.arange(_SIDE.size)) // (_SIDE.size - 1)
    down = dashes.rows[:, None] + _DOWN
    right = along[:, _RIGHT]
    beyond = np.where(_SIDE < 0, dashes.first[:, None], dashes.last[:, None]) + _SIDE
    around = np.where(np.abs(_DOWN) > OWN, right, beyond[:, _RIGHT])[:, _AROUND]
    there = now[down[:, _AROUND], around].astype(np.int16)
    ground = np.median(there, axis=1)
    height = _height(now, dashes, ground)
    others = np.abs(there - ground[:, None]).max(axis=1)
    earlier = np.abs(before[down, right].astype(np.int16) - ground[:, None]).max(axis=1)
    return np.asarray(np.maximum(others, earlier) < ALONE * height)


class Sparkle:
    """Counts sparks against what is usual in this stream.

    Attributes
    ----------
    early : Arrived or None
        The first picture that sparkled before the usual was known, while they go on.
    """

    def __init__(self) -> None:
        self._usual: deque[float] = deque(maxlen=16)
        self._few: deque[Cells] = deque(maxlen=SUMMED - 1)
        self._few_since: Arrived | None = None
        self.early: Arrived | None = None
        self._early_pictures = 0

    @property
    def since(self) -> Arrived | None:
        """The first picture that sparkled, where it took several to tell."""
        return self.early or self._few_since

    def sparks(self, cells: Cells, pixels: int) -> float:
        """Return the sparks of a picture of so many pixels if it sparkles, else 0."""
        if not self._is_known:
            called = self._early_pictures >= EARLY_PICTURES - 1
            return float(cells.sum()) if called and self._is_early(cells, pixels) else 0.0
        now = _scattered(cells, self._least(pixels, 1), SCATTERED, HEAPED)
        return now or self._few_but_steady(cells, pixels)

    def _least(self, pixels: int, pictures: int) -> float:
        """Return how many sparks are more than usual in so many pictures."""
        usual = pictures * float(np.median(self._usual))
        fewest = max(_FEWEST, _SHARE * pixels) * (1.0 if pictures == 1 else SUMMED_TIMES)
        return fewest + TIMES_USUAL * usual + SIGMAS * float(np.sqrt(usual))

    def _few_but_steady(self, cells: Cells, pixels: int) -> float:
        """Return the sparks of a picture if it and those before have few, but more than usual."""
        if len(self._few) < SUMMED - 1 or not self._has_few(cells):
            return 0.0
        together = np.sum([*self._few, cells], axis=0)
        steady = _scattered(together, self._least(pixels, SUMMED), EARLY_SCATTERED, HEAPED)
        return float(cells.sum()) if steady else 0.0

    def stirs(self, cells: Cells, pixels: int) -> bool:
        """Tell whether a picture's sparks may count for more than usual, now or with others."""
        return self._has_few(cells) if self._is_known else self._is_early(cells, pixels)

    def jumped(self, fresh: Cells, now: View, before: View) -> bool:
        """Tell whether sparks are the content's own dots that were elsewhere in the one before."""
        usual = float(np.median(self._usual)) if self._is_known else 0.0
        gone = float(fresh_sparks(before, now).sum())
        return gone - usual >= JUMPED_SHARE * (float(fresh.sum()) - usual)

    def _has_few(self, cells: Cells) -> bool:
        return float(cells.sum()) >= FEWEST_EACH + TIMES_USUAL * float(np.median(self._usual))

    @property
    def _is_known(self) -> bool:
        return len(self._usual) >= _KNOWN

    @staticmethod
    def _is_early(cells: Cells, pixels: int) -> bool:
        least = EARLY_TIMES * max(_FEWEST, _SHARE * pixels)
        return _scattered(cells, least, EARLY_SCATTERED, EARLY_HEAPED) > 0

    def learn(self, cells: Cells, pixels: int, arrived: Arrived) -> None:
        """Take the cells of a picture without any fault."""
        if not self._is_known and self._is_early(cells, pixels):
            self.early = self.early or arrived
            self._early_pictures += 1
            return
        self.early = None
        self._early_pictures = 0
        if self._is_known and self._has_few(cells):
            self._few_since = self._few_since or arrived
            self._few.append(cells)
        else:
            self._few.clear()
            self._few_since = None
        self._usual.append(float(cells.sum()))

    def gone(self) -> None:
        """Take that the picture is gone; what is usual is kept."""
        self._few.clear()
        self._few_since = self.early = None
        self._early_pictures = 0

    def learn_still(self) -> None:
        """Take a picture that repeats the one before, where little is known."""
        if not self._is_known:
            self._usual.append(0.0)


def _scattered(cells: Cells, least: float, scattered: float, heaped: float) -> float:
    """Return the number of sparks if there are so many, and evenly scattered; else 0."""
    count = float(cells.sum())
    by_chance = cells.size * (1 - np.exp(-count / cells.size))
    hit = int(np.count_nonzero(cells))
    if count < least or hit < max(FEWEST_CELLS, scattered * by_chance):
        return 0.0
    return count if float(cells.max()) <= heaped * count else 0.0
