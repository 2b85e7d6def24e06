"""A capture card's own picture in colour: whether a picture that is alike in grey is the same.

In grey a dark plain page of the unit's is a dark blue card. Only where the grey pictures are alike,
or a large part of a picture has the luma of the card's ground, is it asked for its colours.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from soak.measure.video.colour import TO_LUMA, Colour, Small
from soak.measure.video.picture import RANGE, Grey, Luma

LANE_LUMA, BLOCK_LUMA = 6.0, 24.0
"""Largest mean difference of a lane over the cells, and over 2 x 2 of them, levels. Our own choice:
an encoder's chroma wanders by 2 to 3."""
SHAPES_LUMA = 1.0
"""From this standard deviation of luma over the cells a card has shapes. Our own choice: noise and
an encoder leave less."""
SHAPES_ALIKE, LEAST_CONTRAST, MOST_CONTRAST = 0.9, 0.6, 1.6
"""The shapes correlate so well, and their contrast is so many times the card's. Our own choice."""
NEXT_LUMA = 12.0
"""A moving picture's next one differs by no more on the mean of its cells, levels. Our own choice:
films moved by up to 4."""
PLAIN_TIMES = 2.0
"""A plain card meets pictures of no more than so many times its own spread, and of what is no
shape. Our own choice."""
SATURATED_LUMA, GROUND_SHARE = 60.0, 0.75
"""A card has a ground of one strong colour where its lanes are so far apart, levels, in so many of
its cells. Our own choice: greys and pale colours are a unit's, too."""
GROUND_LUMA, GROUND_LESS = 8.0, 0.12
"""That ground is there where each lane is so near to it, levels, in no less than the card's share
of cells less this one: a box wanders over it. Our own choice."""
DARKEST, BRIGHTEST = 0.7, 1.15
"""And it may be so many times as bright as it was taught: cards dim it. Our own choice."""


class CardColours:
    """The colours of one taught picture.

    Parameters
    ----------
    colour : Colour
        Its own, in full range.
    """

    def __init__(self, colour: Colour) -> None:
        self._cells = colour.cells
        luma = colour.cells @ TO_LUMA.astype(np.float32)
        self._luma = luma
        strong = colour.cells.max(axis=2) - colour.cells.min(axis=2) >= SATURATED_LUMA
        self._ground: Small | None = None
        if float(strong.mean()) >= GROUND_SHARE:
            ground = np.median(colour.cells[strong], axis=0).astype(np.float32)
            share = float(_near(colour.cells, ground, 1.0).mean())
            if share >= GROUND_SHARE:
                self._ground = ground
                self._least = share - GROUND_LESS

    def are_those_of(self, colour: Colour) -> bool:
        """Tell whether a picture that is alike in grey has the same colours and shapes."""
        apart = np.abs(colour.cells - self._cells)
        if float(apart.mean(axis=(0, 1)).max()) > LANE_LUMA:
            return False
        blocks = cv2.resize(apart, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA)
        if float(np.max(blocks)) > BLOCK_LUMA:
            return False
        return self._has_its_shapes(colour.cells @ TO_LUMA.astype(np.float32))

    def continues(self, before: "CardColours") -> bool:
        """Tell whether this picture may be the next of a moving one."""
        if float(np.abs(self._cells - before._cells).mean()) > NEXT_LUMA:
            return False
        own = self._luma - self._luma.mean()
        theirs = before._luma - before._luma.mean()
        spreads = float(own.std()) * float(theirs.std())
        return spreads > SHAPES_LUMA and float((own * theirs).mean()) > SHAPES_ALIKE * spreads

    def may_be_ground(self, grey: Grey, luma: Luma) -> bool:
        """Tell whether enough of a small grey image has the luma of the card's ground."""
        if self._ground is None:
            return False
        level = float(self._ground @ TO_LUMA)
        low = _in_range(DARKEST * level - GROUND_LUMA, luma)
        high = _in_range(BRIGHTEST * level + GROUND_LUMA, luma)
        return cv2.countNonZero(cv2.inRange(grey, low, high)) >= self._least * grey.size

    def are_ground_of(self, colour: Colour) -> bool:
        """Tell whether a picture shows the card's ground, whatever else it has on it."""
        if self._ground is None:
            return False
        gain = float(np.median(colour.cells @ TO_LUMA) / max(float(self._ground @ TO_LUMA), 1.0))
        if not DARKEST <= gain <= BRIGHTEST:
            return False
        return float(_near(colour.cells, self._ground, gain).mean()) >= self._least

    def _has_its_shapes(self, luma: Small) -> bool:
        own = float(self._luma.std())
        theirs = float(luma.std())
        if own <= SHAPES_LUMA:
            return theirs <= max(SHAPES_LUMA, PLAIN_TIMES * own)
        if not LEAST_CONTRAST <= theirs / own <= MOST_CONTRAST:
            return False
        both = float(((luma - luma.mean()) * (self._luma - self._luma.mean())).mean())
        return both > SHAPES_ALIKE * own * theirs


def _in_range(level: float, luma: Luma) -> float:
    """Return a level of full range in a stream's range of luma."""
    low, high = RANGE[luma]
    return low + level * (high - low) / 255


def _near(cells: Small, ground: Small, gain: float) -> NDArray[np.bool_]:
    return np.asarray(np.abs(cells - gain * ground).max(axis=2) <= GROUND_LUMA)
