"""Pictures that are drawn: pages of text in several fonts and layouts, and recordings of them."""

import json
from collections.abc import Iterable, Sequence
from pathlib import Path

import cv2
import numpy as np
from faulty_clips import jpeg

from soak.desk.proof.recordings import Asked, Found, look_at

SIZES = ((640, 480), (1280, 720), (1920, 1080))
FONTS = (
    cv2.FONT_HERSHEY_SIMPLEX,
    cv2.FONT_HERSHEY_DUPLEX,
    cv2.FONT_HERSHEY_COMPLEX,
    cv2.FONT_HERSHEY_SIMPLEX | cv2.FONT_ITALIC,
)


def page(size: tuple[int, int], seed: int) -> np.ndarray:
    """Return a page of made-up words: dark or light, one column or two, with a bar on top or not.

    Parameters
    ----------
    size : (int, int)
        Width and height in pixels.
    """
    rng = np.random.default_rng(seed)
    width, rows = size
    dark = rng.random() < 0.5
    ground, ink = (rng.integers(0, 50, 3), rng.integers(170, 256, 3))
    if not dark:
        ground, ink = 255 - ground, 255 - ink
    drawn = np.full((rows, width, 3), ground, np.uint8)
    if rng.random() < 0.6:
        colour = rng.integers(0, 256, 3).tolist()
        cv2.rectangle(drawn, (0, 0), (width, int(rows * rng.uniform(0.08, 0.2))), colour, -1)
    font = FONTS[rng.integers(len(FONTS))]
    high = rows * rng.uniform(0.025, 0.07)
    columns = int(rng.integers(1, 3))
    for column in range(columns):
        left = int(width * (0.05 + 0.5 * column))
        down = rows * rng.uniform(0.1, 0.3) + high
        while down < rows:
            place = (left, int(down))
            thick = max(1, round(high / 14))
            said = words(rng, int(rng.integers(2, 8)) // columns + 1)
            cv2.putText(drawn, said, place, font, high / 30, ink.tolist(), thick, cv2.LINE_AA)
            down += high * rng.uniform(1.3, 2)
    return drawn


def words(rng: np.random.Generator, number: int) -> str:
    """Return so many words that mean nothing."""
    return " ".join(
        "".join(chr(one) for one in rng.integers(97, 123, rng.integers(2, 9)))
        for _ in range(number)
    )


def looked_through(
    folder: Path,
    frames: Iterable[np.ndarray],
    *,
    moving: bool = True,
    quality: int = 85,
    fine_every: int = 8,
    rate_hz: float = 60.0,
) -> Found:
    """Record frames as a capture card would, and return what the program says of them."""
    file = folder / "drawn.mjpeg"
    places: list[tuple[int, int, float]] = []
    at = 0
    packets: dict[int, bytes] = {}
    kept: Sequence[np.ndarray] = list(frames)  # so that an id stays one's
    with file.open("wb") as out:
        for number, frame in enumerate(kept):
            if id(frame) not in packets:
                packets[id(frame)] = jpeg(frame, quality)
            packet = packets[id(frame)]
            places.append((at, len(packet), number * 1e9 / rate_hz))
            at += out.write(packet)
    about = {"fps": rate_hz, "moving": moving, "frames": places}
    file.with_name("drawn.mjpeg.idx.json").write_text(json.dumps(about))
    return look_at(str(file), Asked(fine_every=fine_every))


def told(found: Found, *, without: Iterable[str] = ()) -> list[tuple[str, int, int]]:
    """Return what is no plain picture: kind, first and last picture."""
    rows = ((kind, first, last) for _, first, last, kind in found.rows())
    return [row for row in rows if row[0] not in set(without)]
