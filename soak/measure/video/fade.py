"""Telling a fade to black from a dropout by the true pictures before it."""

from collections import deque
from itertools import pairwise

LAST_STEP_LUMA = 12.0
"""A fade's last step into black is at most so many luma levels. Own choice."""
_STEPS, _FELL_LUMA = 3, 6.0
"""A way into black is a fade from so many steps down, by so many luma levels in all. Our own
choice."""
_LARGEST_SHARE = 0.4
"""Where the way down is uneven, no step is a larger part of it: a picture cut off half-way makes
two steps of a loss. Own choice."""
_NO_LEAP = 3.0
"""Nor is it more than so many times the largest step before it: a dark scene that happens to grow
darker by hairs and is then lost has not faded. Own choice."""


class Fade:
    """Follows mean luma and says whether black came gradually."""

    def __init__(self) -> None:
        self._means: deque[float] = deque(maxlen=12)
        self._bottom: float | None = None

    def see(self, mean_luma: float) -> None:
        """Take the mean luma of a picture that is not black, 0 to 255."""
        self._means.append(mean_luma)
        if self._bottom is not None and mean_luma > self._bottom + LAST_STEP_LUMA:
            self._bottom = None

    def forget(self) -> None:
        """Forget what came before: the stream was interrupted."""
        self._means.clear()
        self._bottom = None

    def led_to(self, mean_luma: float) -> bool:
        """Tell whether a black picture of that mean luma ends a fade.

        The last step is small, and at least three steps in a row went down by a visible sum; the
        cut from a dark scene to black has the small step but not the way down, of which it is no
        more than a part.
        """
        if self._bottom is None and self._fell_to(mean_luma):
            self._bottom = mean_luma
        # At the bottom noise may lift a picture above black and drop the next: all one fade.
        return self._bottom is not None

    def _fell_to(self, mean_luma: float) -> bool:
        means = [*self._means, mean_luma]
        return self._straight_down(means) or self._unevenly_down(means)

    @staticmethod
    def _unevenly_down(means: list[float]) -> bool:
        """Tell whether they lead down in many parts, lifted in between by what moves there."""
        top = max(range(len(means)), key=lambda at: (means[at], at))  # the last of the highest
        steps = [one - other for one, other in pairwise(means[top:])]
        way = means[top] - means[-1]
        if len(steps) < _STEPS or way < _FELL_LUMA or steps[-1] > LAST_STEP_LUMA:
            return False
        return max(steps) <= _LARGEST_SHARE * way and steps[-1] <= _NO_LEAP * max(steps[:-1])

    @staticmethod
    def _straight_down(means: list[float]) -> bool:
        if len(means) <= _STEPS or means[-2] - means[-1] > LAST_STEP_LUMA:
            return False
        falling = 0
        while falling < len(means) - 1 and means[-2 - falling] > means[-1 - falling]:
            falling += 1
        if falling < _STEPS or means[-1 - falling] - means[-1] < _FELL_LUMA:
            return False
        way = means[-1 - falling : -1]
        steps = [one - other for one, other in pairwise(way)]
        return means[-2] - means[-1] <= _NO_LEAP * max(steps)
