"""A tear that was there when the picture came, or came where nothing could be followed.

One picture tells little: any two rows may look like one row shifted. A tear stays where it is while
the scene moves through it, and nothing in a scene does that.
"""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np

from soak.measure.video.colour import Small
from soak.measure.video.fine.torn import prominent, shift_after, shift_between
from soak.measure.video.fine.view import View
from soak.measure.video.intake import Arrived

SEEN_TIMES = 4
"""At one row by one shift in so many pictures, each with another scene there: then it is a tear.
Own choice: pages and films of the tuning contents came to 1."""
ROWS_AGREE = 3
"""Of the four pairs of rows up to three apart across the place, so many must say the same shift.
Own choice: a chance likeness is one pair's."""
SCENE_MOVED, MOVED_LUMA = 0.5, 4.0
"""Another scene is there if this share of the cells beside the place has changed its mean by so
many luma levels. Own choice: noise averages out in a cell, and a clock fills few of them."""
_ROWS = 14
"""What lies so many rows above and below a place is the scene there. Our own choice."""
_CELLS = (32, 2)
"""Cells across and down into which that scene is averaged. Our own choice."""


@dataclass(slots=True)
class _Place:
    """A row that looks torn: by which shift, since when, and what was there when it counted."""

    shift: int
    since: Arrived
    scene: Small
    times: int = 1


class StandingTears:
    """Follows rows that look torn from picture to picture."""

    def __init__(self) -> None:
        self._places: dict[int, _Place] = {}

    def see(self, arrived: Arrived, view: View) -> tuple[int, int, Arrived] | None:
        """Take a picture; return row, shift and first picture of what has proved a tear."""
        looks = {
            row: shift
            for row in prominent(view.row_steps)
            if (shift := shift_after(view, row, ROWS_AGREE))
        }
        for row in [*self._places]:
            if row not in looks and shift_between(view, row, row + 1) is not None:
                del self._places[row]  # its rows have shapes, and they fit
        for row, shift in looks.items():
            scene = _scene(view, row)
            place = self._places.get(row)
            if place is None or abs(place.shift - shift) > 1:
                self._places[row] = _Place(shift, arrived, scene)
                continue
            if float(np.mean(np.abs(scene - place.scene) > MOVED_LUMA)) >= SCENE_MOVED:
                place.scene = scene
                place.times += 1
            if place.times >= SEEN_TIMES:
                return row, shift, place.since
        return None


def _scene(view: View, row: int) -> Small:
    rows = view.thin[max(0, row - _ROWS) : row + _ROWS]
    small: Any = cv2.resize(rows, _CELLS, interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.float32)
