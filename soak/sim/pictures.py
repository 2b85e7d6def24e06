"""The small pictures a simulated capture delivers, made once for each capture."""

from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from soak.measure.video.coded_picture import draw
from soak.sim.chance import stream

WIDTH = 64
ROWS = 36
CODED_SIZE = (320, 180)
"""Width and height of a coded picture: the least that can be read, five times the others."""
BAR = 8
"""Width of the moving bar in pixels; it moves by as much from one picture to the next."""
NOISE_LUMA = 2.0
"""Standard deviation of the noise of the moving picture, luma levels."""

NO_SIGNAL_FILE = Path(__file__).with_name("no_signal.png")
"""What the simulated card shows without a signal, as a picture to be taught."""

Image = NDArray[np.uint8]
"""Blue, green, red; shape (36, 64, 3)."""


def moving_pictures(seed: int) -> list[memoryview]:
    """Return one round of the moving picture: a bright bar that crosses a slope of grey."""
    noise = stream(seed, "picture noise")
    slope = np.linspace(60, 140, ROWS)[:, None, None] * np.ones((1, WIDTH, 3))
    round_of = []
    for begin in range(0, WIDTH, BAR):
        image = slope + noise.normal(0.0, NOISE_LUMA, slope.shape)
        image[:, begin : begin + BAR] += 90.0
        round_of.append(_bytes_of(np.clip(image, 0, 255).astype(np.uint8)))
    return round_of


def black_picture(seed: int) -> memoryview:
    """Return a black picture with a little noise, as a signal without content gives."""
    noise = stream(seed, "black noise")
    return _bytes_of(noise.integers(14, 19, (ROWS, WIDTH, 3)).astype(np.uint8))


def no_signal_picture() -> Image:
    """Return the simulated card's own picture without a signal: blue-grey with a light band."""
    image = np.empty((ROWS, WIDTH, 3), np.uint8)
    image[:] = (122, 88, 70)
    image[15:21, 12:52] = (190, 176, 168)
    return image


def protected_picture() -> Image:
    """Return what the simulated unit shows in place of protected output: a notice on dark green."""
    image = np.empty((ROWS, WIDTH, 3), np.uint8)
    image[:] = (40, 70, 46)
    image[8:14, 14:50] = (205, 214, 208)
    image[20:24, 20:44] = (150, 164, 156)
    return image


def protected_file() -> bytes:
    """Return the same as a PNG file, as a picture to be taught."""
    return bytes(cv2.imencode(".png", protected_picture())[1].tobytes())


def coded_pictures(frames: int) -> list[memoryview]:
    """Return the pictures of a coded clip, `CODED_SIZE` each."""
    return [_bytes_of(draw(number, 0, CODED_SIZE, frames)) for number in range(frames)]


def larger(picture: memoryview) -> memoryview:
    """Return a picture blown up to `CODED_SIZE`: a card delivers all its pictures in one size."""
    small = np.frombuffer(picture, np.uint8).reshape(ROWS, WIDTH, 3)
    factor = CODED_SIZE[0] // WIDTH
    return _bytes_of(small.repeat(factor, axis=0).repeat(factor, axis=1))


def _bytes_of(image: Image) -> memoryview:
    return memoryview(image.tobytes())
