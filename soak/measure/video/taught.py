"""The card's own no-signal pictures, taught beforehand, and whether a picture shows one of them."""

from collections.abc import Sequence
from typing import Any

import cv2
import numpy as np

from soak.measure.video.card_colours import CardColours
from soak.measure.video.colour import Colour, colour_of, held_file
from soak.measure.video.picture import Grey, Held, Luma, small_grey

ALIKE_MEAN, ALIKE_CELL = 3.0, 16.0
"""Largest mean and largest local difference, in luma levels, to a taught picture. Own choice: the
card's own no-signal picture comes back but for its encoder's noise."""
BRIGHTER_LUMA = 6.0
"""By so much a card's picture may come back brighter or darker all over, luma levels: its black
level wanders. Our own choice."""


class TaughtPictures:
    """Holds taught pictures at the scale that pictures are judged at.

    Parameters
    ----------
    files : sequence of bytes
        JPEG or PNG files, in full range.

    Raises
    ------
    ValueError
        If one cannot be decoded.
    """

    def __init__(self, files: Sequence[bytes]) -> None:
        # A JPEG is averaged as it is decoded small, raw forms are sampled: fine text differs.
        held = [held_file(file) for file in files]
        averaged = tuple(
            _grey(Held("mjpeg", one.size, file), file)
            for one, file in zip(held, files, strict=True)
        )
        sampled = tuple(_grey(one, file) for one, file in zip(held, files, strict=True))
        self._greys: dict[tuple[bool, Luma], tuple[Grey, ...]] = {
            (True, "full"): averaged,
            (True, "limited"): tuple(map(_limited, averaged)),
            (False, "full"): sampled,
            (False, "limited"): tuple(map(_limited, sampled)),
        }
        self._colours = tuple(CardColours(colour) for card in held if (colour := colour_of(card)))

    def shows(self, held: Held, luma: Luma) -> bool:
        """Tell whether a picture shows one of them; it is decoded in colour only where it may."""
        grey = held.grey()
        if grey is None:
            return False
        cards = self._greys[held.form == "mjpeg", luma]
        return any(
            self._is(held, grey, card, colours=colours, luma=luma)
            for card, colours in zip(cards, self._colours, strict=True)
        )

    @staticmethod
    def _is(held: Held, grey: Grey, card: Grey, colours: CardColours, luma: Luma) -> bool:
        alike = are_alike(grey, card, BRIGHTER_LUMA)
        if not alike and not colours.may_be_ground(grey, luma):
            return False
        colour = colour_of(held)
        if colour is None:
            return False
        if luma == "limited" and held.form != "yuyv":  # YUYV is decoded to full range
            colour = _widened(colour)
        return (alike and colours.are_those_of(colour)) or colours.are_ground_of(colour)


def are_alike(one: Grey, other: Grey, brighter: float = 0.0) -> bool:
    """Tell whether two pictures are the same but for an encoder's noise; sizes may differ.

    Parameters
    ----------
    brighter : float
        By so many levels one may be brighter or darker all over.
    """
    if one.shape != other.shape:
        rows, columns = one.shape
        resized: Any = cv2.resize(other, (columns, rows), interpolation=cv2.INTER_AREA)
        other = np.asarray(resized, np.uint8)
    if brighter:
        apart_luma = float(cv2.mean(one)[0] - cv2.mean(other)[0])
        step = min(max(apart_luma, -brighter), brighter)
        if abs(apart_luma - step) > ALIKE_MEAN:  # no mean of changes is less than that of the means
            return False
        other = np.asarray(cv2.convertScaleAbs(other, alpha=1.0, beta=step), np.uint8)
    if cv2.norm(one, other, cv2.NORM_L1) > ALIKE_MEAN * one.size:
        return False
    apart = cv2.absdiff(one, other).astype(np.float32)
    return float(np.max(cv2.resize(apart, (16, 9), interpolation=cv2.INTER_AREA))) <= ALIKE_CELL


def _limited(grey: Grey) -> Grey:
    return np.round(16 + grey * (219 / 255)).astype(np.uint8)


def _widened(colour: Colour) -> Colour:
    gain = 255 / 219
    small: Any = cv2.addWeighted(colour.small, gain, colour.small, 0, -16 * gain)
    return Colour(np.asarray(small, np.uint8))


def _grey(held: Held, file: bytes) -> Grey:
    data = file if held.form == "mjpeg" else held.data
    grey = small_grey(held.form, held.size, data)
    assert grey is not None
    return grey
