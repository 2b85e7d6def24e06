"""Blocks: an encoder so short of bits that its 8 x 8 grid shows. That is the card's doing."""

from collections import deque

import numpy as np

from soak.measure.video.fine.view import Profile, View

GRID = 8
"""Side of a JPEG's block, pixels (ITU-T T.81). By definition."""
TIMES_USUAL, ABOVE_USUAL = 1.25, 0.1
"""With coarser quantising, the grid stands out so much more than usual. Own choice."""
ALONE_TIMES, ALONE_ABOVE = 1.8, 0.4
"""The same where nothing is known of the quantising. Own choice."""
FINE_TIMES, FINE_ABOVE = 2.5, 0.5
"""The same where the quantising is as fine as ever: then it is hardly the card. Own choice."""
SMOOTH_LUMA = 0.5
"""Steps below this are noise of the quantising in smooth pictures, luma levels. Own choice."""
COARSER = 1.8
"""The quantising tables' sum is so many times the usual one. Own choice."""
_KNOWN = 3
"""From so many pictures on the stream's usual is known. Our own choice."""


def grid_ratio(steps: Profile) -> float:
    """Return how much larger the steps at one place of every 8 are than the others' median."""
    whole = steps[: len(steps) // GRID * GRID].reshape(-1, GRID).mean(axis=0)
    return float(whole.max() / (np.median(whole) + SMOOTH_LUMA))


class Blocks:
    """Follows how far the grid stands out."""

    def __init__(self) -> None:
        self._usual: deque[float] = deque(maxlen=60)
        self._quantisers: deque[int] = deque(maxlen=60)

    def stand_out(self, view: View) -> bool:
        """Tell whether the grid stands out more than usual."""
        if len(self._usual) < _KNOWN:
            return False
        ratio = _ratio(view)
        usual = float(np.median(self._usual))
        coarser = COARSER * float(np.median(self._quantisers))
        if view.quantiser and view.quantiser > coarser:
            return ratio > TIMES_USUAL * usual + ABOVE_USUAL
        # A plain picture has no steps at all: its ratio says nothing of the next one's.
        usual = max(1.0, usual)
        if view.quantiser:
            return ratio > FINE_TIMES * usual + FINE_ABOVE
        return ratio > ALONE_TIMES * usual + ALONE_ABOVE

    def learn(self, view: View) -> None:
        """Take a picture without any fault."""
        self._usual.append(_ratio(view))
        self._quantisers.append(view.quantiser)

    def learn_still(self, view: View) -> None:
        """Take a picture that repeats the one before, where little is known."""
        if len(self._usual) < _KNOWN:
            self.learn(view)


def _ratio(view: View) -> float:
    return min(grid_ratio(view.row_steps), grid_ratio(view.column_steps()))
