"""One coded picture: a number with an error check in big cells, tiles of known colours, a bar.

It survives scaling, overscan, another colour range and re-compression: the reader finds the white
frame around the cells, flattens it, and takes black and white from reference cells within it.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Image = NDArray[np.uint8]

COLUMNS, ROWS = 10, 7
"""Cells within the frame: a row for reference (black and white in turn), five for the bits, one for
the tiles. Decides nothing: part of the clip's format."""
NUMBER_BITS, CLIP_BITS, CHECK_BITS = 24, 8, 16
"""Decides nothing: part of the clip's format."""
_MARGIN = 0.12
"""The frame lies so far inside the picture: sets that overscan cut off up to 10 % in all. Common
practice."""
_FLAT = (800, 560)
"""Size in pixels to which the inside of the frame is flattened for reading. Our own choice: 80
pixels a cell."""
TILES = (
    (0, 0, 255),
    (0, 255, 0),
    (255, 0, 0),
    (255, 255, 0),
    (255, 0, 255),
    (0, 255, 255),
    (128, 128, 128),
)
"""Colours of the tiles as blue, green, red; full range. Decides nothing: part of the clip's
format."""
_WIDE = 640
"""A wider picture is shrunk to so many pixels to be read. Our own choice: its cells are big, and a
small picture is quick."""
_LEAST_SHARE = 0.15
"""The frame covers at least this share of a picture that shows the clip. Our own choice."""


@dataclass(frozen=True, slots=True)
class Coded:
    """What a picture says.

    Attributes
    ----------
    number : int
        Frame number, from 0.
    clip : int
        Number of the clip, 0 to 255.
    colour_error : (float, float, float)
        Largest error of the tiles' blue, green and red, share of full scale, 0 to 1.
    """

    number: int
    clip: int
    colour_error: tuple[float, float, float]


def check_of(number: int, clip: int) -> int:
    """Return the error check of number and clip.

    References
    ----------
    CRC-16/XMODEM: polynomial 0x1021, initial value 0 (ITU-T V.41); check of "123456789" is 0x31C3.
    """
    return crc16(number.to_bytes(3, "big") + clip.to_bytes(1, "big"))


def crc16(data: bytes) -> int:
    """Return the CRC-16/XMODEM of some bytes."""
    value = 0
    for byte in data:
        value ^= byte << 8
        for _ in range(8):
            value = ((value << 1) ^ 0x1021 if value & 0x8000 else value << 1) & 0xFFFF
    return value


def draw(number: int, clip: int, size: tuple[int, int], frames: int) -> Image:
    """Return one coded picture.

    Parameters
    ----------
    size : (int, int)
        Width and height in pixels, at least 320 by 180.
    frames : int
        Frames in the clip; the bar crosses the picture once.

    Returns
    -------
    ndarray
        Shape (height, width, 3), uint8, blue, green, red.
    """
    width, height = size
    picture = np.full((height, width, 3), 24, np.uint8)
    left, top, right, bottom = _frame(size)
    thick = max(4, height // 60)
    outer = ((left - thick, top - thick), (right + thick, bottom + thick))
    cv2.rectangle(picture, *outer, (255, 255, 255), -1)
    picture[top:bottom, left:right] = 0
    for index, bright in enumerate(_cells(number, clip)):
        if bright:
            _fill(picture, _cell(index, (left, top, right, bottom)), (255, 255, 255))
    for index, colour in enumerate(TILES):
        _fill(picture, _cell(COLUMNS * (ROWS - 1) + index + 1, (left, top, right, bottom)), colour)
    at = int((width - width // 40) * (number % max(frames, 1)) / max(frames - 1, 1))
    picture[height - height // 16 : height - height // 48, at : at + width // 40] = 255
    return picture


def read(picture: Image) -> Coded | None:
    """Return what a picture says; None if it is no coded picture or cannot be read for sure.

    Parameters
    ----------
    picture : ndarray
        Shape (height, width, 3), uint8, blue, green, red.
    """
    if picture.shape[1] > _WIDE:  # big cells need no big picture, and a small one is quick
        high = round(picture.shape[0] * _WIDE / picture.shape[1])
        small = cv2.resize(picture, (_WIDE, high), interpolation=cv2.INTER_AREA)
        picture = np.asarray(small, np.uint8)
    for corners in _frames(picture):
        coded = _read_flat(_flattened(picture, corners))
        if coded is not None:
            return coded
    return None


def _cells(number: int, clip: int) -> list[bool]:
    """Return which cells are bright: the reference row, then number, clip and check."""
    reference = [column % 2 == 1 for column in range(COLUMNS)]
    word = (number << (CLIP_BITS + CHECK_BITS)) | (clip << CHECK_BITS) | check_of(number, clip)
    bits = NUMBER_BITS + CLIP_BITS + CHECK_BITS
    return reference + [bool(word >> (bits - 1 - at) & 1) for at in range(bits)]


def _frame(size: tuple[int, int]) -> tuple[int, int, int, int]:
    width, height = size
    across = int(width * _MARGIN)
    down = int(height * _MARGIN)
    return across, down, width - across, height - down


def _cell(index: int, inside: tuple[int, int, int, int]) -> tuple[int, int, int, int]:
    """Return left, top, right, bottom of a cell, a tenth left dark around it."""
    left, top, right, bottom = inside
    row, column = divmod(index, COLUMNS)
    wide = (right - left) / COLUMNS
    high = (bottom - top) / ROWS
    return (
        round(left + (column + 0.1) * wide),
        round(top + (row + 0.1) * high),
        round(left + (column + 0.9) * wide),
        round(top + (row + 0.9) * high),
    )


def _fill(picture: Image, cell: tuple[int, int, int, int], colour: tuple[int, int, int]) -> None:
    left, top, right, bottom = cell
    picture[top:bottom, left:right] = colour


def _frames(picture: Image) -> list[NDArray[np.float32]]:
    """Return the corners of what may be the inside of the frame, the largest first."""
    grey = cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY)
    _, bright = cv2.threshold(grey, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)
    outlines, family = cv2.findContours(bright, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE)
    if not len(outlines):
        return []
    least = _LEAST_SHARE * grey.size
    frames = []
    for outline, relation in zip(outlines, family[0], strict=True):
        if relation[3] < 0 or cv2.contourArea(outline) < least:
            continue  # the inside of the frame is a hole in something bright
        corners = cv2.approxPolyDP(outline, 0.02 * cv2.arcLength(outline, True), True)
        if len(corners) == 4:
            frames.append(
                (cv2.contourArea(outline), _in_order(corners.reshape(4, 2).astype(np.float32)))
            )
    return [corners for _, corners in sorted(frames, key=lambda one: -one[0])]


def _in_order(corners: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the corners from the top left, clockwise."""
    total = corners.sum(axis=1)
    difference = np.diff(corners, axis=1).ravel()
    order = (np.argmin(total), np.argmin(difference), np.argmax(total), np.argmax(difference))
    return corners[list(order)]


def _flattened(picture: Image, corners: NDArray[np.float32]) -> Image:
    width, height = _FLAT
    to = np.array([[0, 0], [width, 0], [width, height], [0, height]], np.float32)
    flat = cv2.warpPerspective(picture, cv2.getPerspectiveTransform(corners, to), _FLAT)
    return np.asarray(flat, np.uint8)


def _read_flat(flat: Image) -> Coded | None:
    means = np.array([_mean(flat, index) for index in range(COLUMNS * ROWS)])
    luma = means @ np.array([0.114, 0.587, 0.299])
    black = float(np.mean(luma[0:COLUMNS:2]))
    white = float(np.mean(luma[1:COLUMNS:2]))
    if white - black < 40:
        return None
    bright = luma[COLUMNS:] > (black + white) / 2
    bits = NUMBER_BITS + CLIP_BITS + CHECK_BITS
    word = int("".join("1" if bit else "0" for bit in bright[:bits]), 2)
    number, rest = divmod(word, 1 << (CLIP_BITS + CHECK_BITS))
    clip, check = divmod(rest, 1 << CHECK_BITS)
    if check != check_of(number, clip):
        return None
    return Coded(number, clip, _colour_error(means))


def _mean(flat: Image, index: int) -> NDArray[np.float64]:
    """Return the mean colour of the middle of a cell."""
    left, top, right, bottom = _cell(index, (0, 0, *_FLAT))
    wide = (right - left) // 4
    high = (bottom - top) // 4
    inner = flat[top + high : bottom - high, left + wide : right - wide]
    return np.asarray(inner.reshape(-1, 3).mean(axis=0), np.float64)


def _colour_error(means: NDArray[np.float64]) -> tuple[float, float, float]:
    """Return the largest error of each lane over the tiles, black and white taken as they came.

    Both are the middle one of the three lanes': a lane that is lost leaves the others right.
    """
    black = float(np.median(means[0:COLUMNS:2].mean(axis=0)))
    white = float(np.median(means[1:COLUMNS:2].mean(axis=0)))
    first = COLUMNS * (ROWS - 1) + 1
    seen = (means[first : first + len(TILES)] - black) / max(white - black, 1.0)
    wanted = np.array(TILES, np.float64) / 255.0
    blue, green, red = np.abs(seen - wanted).max(axis=0)
    return float(blue), float(green), float(red)
