"""Words, letters and shapes for drawn contents. Fonts are those that matplotlib carries."""

from functools import lru_cache
from pathlib import Path

import cv2
import matplotlib
import numpy as np
from numpy.random import Generator
from PIL import Image as Pillow
from PIL import ImageDraw, ImageFont

from judging.content import Image, Size

_SYLLABLES = (
    *("ka", "lo", "mi", "ren", "tus", "var", "del", "fi", "go", "nep", "sor"),
    *("al", "quin", "be", "dra", "os", "ve", "hul", "ti", "mar"),
)
_FACES = ("DejaVuSans", "DejaVuSans-Bold", "DejaVuSerif", "DejaVuSansMono", "STIXGeneral", "cmr10")
LINE = 1.35
HORIZON_S = 240.0
"""No content is asked for a later moment, s."""


@lru_cache(maxsize=64)
def font(face: str, height: int) -> ImageFont.FreeTypeFont:
    """Return a font by its name and height in pixels."""
    folder = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
    return ImageFont.truetype(str(folder / f"{face}.ttf"), max(6, height))


def any_face(rng: Generator) -> str:
    """Return one of the proportional faces."""
    return _FACES[int(rng.integers(len(_FACES)))]


def word(rng: Generator) -> str:
    """Return an invented word."""
    count = int(rng.integers(1, 5))
    return "".join(_SYLLABLES[int(rng.integers(len(_SYLLABLES)))] for _ in range(count))


def words(rng: Generator, count: int) -> str:
    """Return invented words in a row, numbers now and then."""
    made = [word(rng) if rng.random() > 0.1 else str(rng.integers(1, 3000)) for _ in range(count)]
    return " ".join(made)


def colour(rng: Generator, low: int = 0, high: int = 256) -> tuple[int, int, int]:
    """Return any colour whose lanes lie between two levels."""
    one, two, three = (int(level) for level in rng.integers(low, high, 3))
    return one, two, three


def vivid(rng: Generator, value: int = 230) -> tuple[int, int, int]:
    """Return a strong colour of any hue, by OpenCV's half degrees."""
    hsv = np.array([[[rng.integers(180), rng.integers(150, 256), value]]], np.uint8)
    blue, green, red = (int(level) for level in cv2.cvtColor(hsv, cv2.COLOR_HSV2BGR)[0, 0])
    return blue, green, red


def plain(size: Size, fill: tuple[int, int, int]) -> Image:
    """Return a picture of one colour."""
    if not any(fill):
        return np.zeros((size[1], size[0], 3), np.uint8)
    image = np.empty((size[1], size[0], 3), np.uint8)
    image[:] = fill
    return image


class Sheet:
    """A picture that letters are put on, by Pillow; colours are blue, green, red as elsewhere."""

    def __init__(self, size: Size, fill: tuple[int, int, int]) -> None:
        self.size = size
        self._image = Pillow.new("RGB", size, fill)
        self._draw = ImageDraw.Draw(self._image)

    def text(
        self,
        at: tuple[float, float],
        said: str,
        face: str,
        height: float,
        ink: tuple[int, int, int],
    ) -> None:
        """Write one line whose left upper corner is `at`."""
        self._draw.text(at, said, fill=ink, font=font(face, int(height)))

    def paragraph(
        self,
        box: tuple[float, float, float, float],
        rng: Generator,
        face: str,
        height: float,
        ink: tuple[int, int, int],
    ) -> None:
        """Fill a box (left, top, right, bottom) with invented text, last lines of it ragged."""
        left, top, right, bottom = box
        fitting = max(2, int((right - left) / (height * 0.55)))
        row = top
        while row + height * LINE <= bottom:
            short = fitting if rng.random() > 0.15 else max(2, fitting // 3)
            self.text((left, row), words(rng, short // 4 + 1)[:short], face, height, ink)
            row += height * LINE * (2 if short != fitting else 1)

    def box(self, corners: tuple[float, float, float, float], fill: tuple[int, int, int]) -> None:
        """Fill a rectangle (left, top, right, bottom)."""
        self._draw.rectangle(corners, fill=fill)

    def done(self) -> Image:
        """Return what was drawn; the lanes were named blue, green, red all along."""
        return np.array(self._image)


def paste(image: Image, part: Image, left: int, top: int) -> None:
    """Put a part into a picture; what lies outside is cut off."""
    rows, columns = image.shape[:2]
    from_row, to_row = max(0, top), min(rows, top + part.shape[0])
    from_column, to_column = max(0, left), min(columns, left + part.shape[1])
    if from_row < to_row and from_column < to_column:
        image[from_row:to_row, from_column:to_column] = part[
            from_row - top : to_row - top, from_column - left : to_column - left
        ]


def written(
    said: str, face: str, height: float, ink: tuple[int, int, int], on: tuple[int, int, int]
) -> Image:
    """Return one line of letters as a picture that just holds it."""
    left, _, right, bottom = font(face, int(height)).getbbox(said)
    sheet = Sheet((int(right - left) + 4, int(max(bottom, height)) + 4), on)
    sheet.text((2 - left, 0), said, face, height, ink)
    return sheet.done()
