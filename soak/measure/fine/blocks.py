"""Blocks: an encoder so short of bits that its 8 x 8 grid shows. That is the card's doing."""

from collections import deque

import numpy as np

from soak.measure.fine.view import Profile, View

GRID = 8
"""Side of a JPEG's block, pixels (ITU-T T.81)."""
TIMES_USUAL, ABOVE_USUAL = 1.5, 0.35
"""The grid stands out so much more than usual. Own choice."""


def grid_ratio(steps: Profile) -> float:
    """Return how much larger the steps at one place of every 8 are than the others' median."""
    whole = steps[: len(steps) // GRID * GRID].reshape(-1, GRID).mean(axis=0)
    return float(whole.max() / (np.median(whole) + 0.1))


class Blocks:
    """Follows how far the grid stands out."""

    def __init__(self) -> None:
        self._usual: deque[float] = deque(maxlen=60)

    def see(self, now: View) -> bool:
        """Tell whether a picture shows its encoder's grid more than the stream usually does."""
        shows = self.stands_out(now)
        if not shows:
            self._usual.append(_ratio(now))
        return shows

    def stands_out(self, now: View) -> bool:
        """Tell whether the grid stands out more than usual, without learning from it."""
        if len(self._usual) < 3:
            return False
        return _ratio(now) > TIMES_USUAL * float(np.median(self._usual)) + ABOVE_USUAL


def _ratio(view: View) -> float:
    return min(grid_ratio(view.row_steps), grid_ratio(view.column_steps()))
