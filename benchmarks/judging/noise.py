"""Noise of the capture: none, weak (Gaussian) and strong (as of a sensor, changing with time)."""

import cv2
import numpy as np
from numpy.random import Generator

from judging.content import Image, Size

_SLACK = 64
WEAK_SIGMA = 1.5
STRONG_SIGMA = 5.0
_ROWS_SIGMA = 1.2
_GAIN_SIGMA = 0.006


class Noise:
    """A field of noise that is laid over each picture at another place, and turned.

    `sigma` is its standard deviation in levels; `lively` adds what a sensor and its amplifier do:
    neighbours that hang together, rows that are lighter as a whole, and a gain that wavers.
    """

    def __init__(self, size: Size, rng: Generator, sigma: float, lively: bool, grey: bool) -> None:
        self.size = size
        self.sigma = sigma
        self._lively = lively
        self._salt = int(rng.integers(2**31))
        shape = (size[1] + _SLACK, size[0] + _SLACK, 1 if grey else 3)
        field = rng.standard_normal(shape, np.float32)
        if lively:
            field = np.asarray(cv2.GaussianBlur(field, (0, 0), 0.7)).reshape(shape)
            field += rng.normal(0, _ROWS_SIGMA / sigma, (shape[0], 1, 1))
        field = field * (sigma / max(1e-6, float(field.std())))
        field = np.repeat(field, 3, axis=2) if grey else field
        self._up = np.clip(np.rint(field), 0, 120).astype(np.uint8)
        self._down = np.clip(np.rint(-field), 0, 120).astype(np.uint8)

    @classmethod
    def of_capture(cls, size: Size, rng: Generator, kind: str) -> "Noise | None":
        """Return the noise of that name, None for none."""
        if kind == "none":
            return None
        if kind == "weak":
            return cls(size, rng, WEAK_SIGMA, False, False)
        return cls(size, rng, STRONG_SIGMA, True, False)

    @classmethod
    def of_grain(cls, size: Size, rng: Generator, sigma: float) -> "Noise":
        """Return the grain of a film: alike in all lanes."""
        return cls(size, rng, sigma, False, True)

    def over(self, image: Image, number: int) -> Image:
        """Return a picture with the noise of that number over it; a picture of any size."""
        rng = np.random.default_rng([self._salt, number])
        row, column = (int(one) for one in rng.integers(0, _SLACK, 2))
        turned = rng.random() < 0.5
        up, down = (self._down, self._up) if turned else (self._up, self._down)
        rows, columns = min(image.shape[0], self.size[1]), min(image.shape[1], self.size[0])
        window = np.s_[row : row + rows, column : column + columns]
        noisy = image.copy()
        part = noisy[:rows, :columns]
        cv2.add(part, up[window], dst=part)
        cv2.subtract(part, down[window], dst=part)
        if self._lively:
            cv2.convertScaleAbs(noisy, dst=noisy, alpha=1 + rng.normal(0, _GAIN_SIGMA))
        return noisy
