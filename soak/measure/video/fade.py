"""Telling a fade to black from a dropout by the true pictures before it.

A fade is one picture, ever darker. Bright content shows it in its mean luma; a few thin lines on
black hardly move that, so there the light of what stands out of the black is followed.
"""

from collections import deque
from itertools import pairwise
from typing import Any

import cv2
import numpy as np

from soak.measure.video.dark import noise_of
from soak.measure.video.picture import Grey, Held

LAST_STEP_LUMA = 12.0
"""A fade's last step into black is at most so many luma levels. Own choice."""
_STEPS, _FELL_LUMA = 3, 6.0
"""A way into black is a fade from so many steps down, by so many luma levels in all. Our own
choice."""
_LARGEST_SHARE = 0.4
"""Where the way down is uneven, no step is a larger part of it: a picture cut off half-way makes
two steps of a loss. Own choice."""
_NO_LEAP = 3.0
"""Nor is it more than so many times the largest step before it: a dark scene that happens to grow
darker by hairs and is then lost has not faded. Own choice."""


LEAST_LIGHT_LUMA, LIGHT_SIGMAS = 1.0, 4.0
"""What is brighter than the black by so many luma levels, and so many standard deviations of its
noise, is light. Own choice: rounding leaves 1, and of 32 000 places of noise two reach four."""
LARGEST_STEP = 0.5
"""No step of a fade is a larger share of the whole way down, nor is the last one, into black. Own
choice: a picture cut off half-way makes a step of half, a cut one of all."""
LEAST_STEP, STEADY = 0.02, 1.02
"""A step down is at least this share of the way; a picture brighter than the one after it by the
second, or as bright, goes on the way. Own choice, above a JPEG's and noise's wandering."""
SAME_PICTURE = 0.85
"""Least correlation of a picture's cells with those of the one before in a fade. Own choice: a fade
of one picture under noise keeps 0.9, a cut to another page has 0.5."""
FAINT = 0.1
"""With a smaller share of its light a picture is not compared: noise and rounding hide it. Own
choice."""
LIT_AGAIN = 0.4
"""With this share of its light again the picture is back from a fade. Own choice."""
STANDS_BEFORE = 3
"""A fade that stood still for more pictures at its end had stopped, so what came then was a cut.
Own choice: the last eight are looked at one by one."""
_CELLS = (32, 18)
"""Cells across and down in which pictures are compared. Our own choice."""
_MEANS = 12
"""Mean lumas that the way down is looked for in. Our own choice: it is short where it is steep."""
_ALL_OF, _SOME_OF = 24, 26
"""So many pictures are all looked back at, and before them so many of those looked at anyway: at 60
a second 0.4 s and 3 s. Our own choice."""


class Fade:
    """Follows the pictures and says whether black came gradually."""

    def __init__(self) -> None:
        self._means: deque[float] = deque(maxlen=_MEANS)
        self._recent: deque[Held] = deque(maxlen=_ALL_OF)
        self._older: deque[Grey] = deque(maxlen=_SOME_OF)
        self._bottom: float | None = None
        self._dim: tuple[Grey, float] | None = None

    def pass_by(self, held: Held) -> None:
        """Take a picture as it comes, whether it is looked at now or not."""
        gone = self._recent[0] if len(self._recent) == _ALL_OF else None
        if held.form != "mjpeg":  # too large to keep, and its grey image is made at once
            gone = held
        else:
            self._recent.append(held)
        grey = gone.grey() if gone is not None and (gone is held or gone.looked_at) else None
        if grey is not None:
            self._older.append(grey)

    def see(self, held: Held) -> None:
        """Take a picture that was looked at and is not black."""
        mean = held.mean_luma()
        self._means.append(mean)
        if self._bottom is not None and mean > self._bottom + LAST_STEP_LUMA:
            self._bottom = None
        grey = held.grey()
        if self._dim is not None and grey is not None:
            black, lit = self._dim
            if light_over(black, grey) > lit:
                self._bottom = self._dim = None

    def forget(self) -> None:
        """Forget what came before: the stream was interrupted."""
        self._means.clear()
        self._recent.clear()
        self._older.clear()
        self._bottom = self._dim = None

    def led_to(self, held: Held) -> bool:
        """Tell whether a black picture ends a fade.

        By the mean luma: the last step is small, and at least three steps in a row went down by a
        visible sum; the cut from a dark scene to black has the small step but not the way down, of
        which it is no more than a part. By the light: one picture lost it in steps none of which
        was most of it.
        """
        if self._bottom is None:
            black = held.grey()
            top = 0.0 if black is None else _dimmed_to(self._before(held), black)
            if black is not None and top:
                self._dim = (black, LIT_AGAIN * top)
            if top or self._fell_to(held.mean_luma()):
                self._bottom = held.mean_luma()
        # At the bottom noise may lift a picture above black and drop the next: all one fade.
        return self._bottom is not None

    def _before(self, held: Held) -> list[Grey]:
        """Return the small grey images of the pictures before one, the nearest last."""
        recent = list(self._recent)
        end = next((at for at, one in enumerate(recent) if one is held), len(recent))
        greys = [picture.grey() for picture in recent[:end]]
        before = [*self._older, *(grey for grey in greys if grey is not None)]
        return before if held.form == "mjpeg" else before[:-1]

    def _fell_to(self, mean_luma: float) -> bool:
        means = [*self._means, mean_luma]
        return self._straight_down(means) or self._unevenly_down(means)

    @staticmethod
    def _unevenly_down(means: list[float]) -> bool:
        """Tell whether they lead down in many parts, lifted in between by what moves there."""
        top = max(range(len(means)), key=lambda at: (means[at], at))  # the last of the highest
        steps = [one - other for one, other in pairwise(means[top:])]
        way = means[top] - means[-1]
        if len(steps) < _STEPS or way < _FELL_LUMA or steps[-1] > LAST_STEP_LUMA:
            return False
        return max(steps) <= _LARGEST_SHARE * way and steps[-1] <= _NO_LEAP * max(steps[:-1])

    @staticmethod
    def _straight_down(means: list[float]) -> bool:
        if len(means) <= _STEPS or means[-2] - means[-1] > LAST_STEP_LUMA:
            return False
        falling = 0
        while falling < len(means) - 1 and means[-2 - falling] > means[-1 - falling]:
            falling += 1
        least = LEAST_STEP * (means[-1 - falling] - means[-1])
        steep = sum(one - other >= least for one, other in pairwise(means[-1 - falling :]))
        if steep < _STEPS or means[-1 - falling] - means[-1] < _FELL_LUMA:
            return False
        way = means[-1 - falling : -1]
        steps = [one - other for one, other in pairwise(way)]
        return means[-2] - means[-1] <= _NO_LEAP * max(steps)


def _dimmed_to(before: list[Grey], black: Grey) -> float:
    """Return the light from which one picture faded to this black; 0 if it did not."""
    before = [grey for grey in before if grey.shape == black.shape]
    lights = [light_over(black, grey) for grey in (*before, black)]
    first = _way_begins(lights)
    way = lights[first:]
    top = way[0]
    steps = [one - other for one, other in pairwise(way)]
    if top <= 0 or sum(step >= LEAST_STEP * top for step in steps) < _STEPS:
        return 0.0
    if max(steps) > LARGEST_STEP * top or _stood(way):
        return 0.0
    bright = [
        _cells(grey)
        for grey, light in zip(before[first:], way, strict=False)
        if light >= FAINT * top
    ]
    return (
        top if all(_alike(one, other) >= SAME_PICTURE for one, other in pairwise(bright)) else 0.0
    )


def light_over(black: Grey, grey: Grey) -> float:
    """Return the light that a picture has over a black one, mean luma levels over its places.

    Only what stands out of its own ground counts: a dark grey ground rounds to black at once.
    """
    if black.shape != grey.shape:
        return 0.0
    level = float(cv2.mean(black)[0])
    ground = max(level, float(np.partition(grey.ravel(), grey.size // 2)[grey.size // 2]))
    ground += max(LEAST_LIGHT_LUMA, LIGHT_SIGMAS * noise_of(black))
    above: Any = cv2.subtract(grey, np.full_like(grey, min(255, round(ground))))
    return float(cv2.mean(above)[0])


def _way_begins(lights: list[float]) -> int:
    """Return from which place on it was never brighter again, to the end."""
    at = len(lights) - 1
    while at and lights[at - 1] * STEADY >= lights[at]:
        at -= 1
    return at


def _stood(way: list[float]) -> bool:
    """Tell whether the light stood still for long just before its last step down."""
    last = way[-2]
    return len(way) > STANDS_BEFORE + 2 and way[-3 - STANDS_BEFORE] <= STEADY * last


def _cells(grey: Grey) -> Any:
    return cv2.resize(grey.astype(np.float32), _CELLS, interpolation=cv2.INTER_AREA)


def _alike(one: Any, other: Any) -> float:
    """Return the correlation of two pictures' cells; 0 where one of them is flat."""
    apart = (one - one.mean()), (other - other.mean())
    size = float(np.linalg.norm(apart[0]) * np.linalg.norm(apart[1]))
    return float(np.vdot(*apart)) / size if size else 0.0
