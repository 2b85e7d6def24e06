"""What every content of the set is: a picture for each moment, and what a bench is told of it."""

from collections import OrderedDict
from collections.abc import Hashable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Image = NDArray[np.uint8]
"""Rows x columns x (blue, green, red)."""
Size = tuple[int, int]
_KEPT = 3


@dataclass(frozen=True, slots=True)
class Told:
    """What the bench is told of a content before the soak, and what the rules ask of it.

    Attributes
    ----------
    longest_still_s, longest_black_s : float
        No picture of it stands, or is black, for longer, s; true by the way it is drawn.
    dots : bool
        Whether it is made of single pixels that come and go by themselves.
    cyclic : bool
        Whether it shows a few pictures again and again in turn (a cursor, a spinner).
    """

    longest_still_s: float = 0.1
    longest_black_s: float = 0.0
    dots: bool = False
    cyclic: bool = False


class Content:
    """A content: what it shows depends on the time alone, so that any moment can be asked for."""

    def __init__(self, size: Size, told: Told) -> None:
        self.size = size
        self.told = told
        self._drawn: OrderedDict[Hashable, Image] = OrderedDict()

    def state(self, t_s: float) -> Hashable:
        """Return what decides the picture at a time; while it stays, the picture stands."""
        raise NotImplementedError

    def draw(self, state: Hashable) -> Image:
        """Draw the picture of a state."""
        raise NotImplementedError

    def picture(self, t_s: float) -> Image:
        """Return the picture at a time; the very same array while it stands. Do not write to it."""
        state = self.state(t_s)
        if state in self._drawn:
            self._drawn.move_to_end(state)
            return self._drawn[state]
        image = self.draw(state)
        self._drawn[state] = image
        if len(self._drawn) > _KEPT:
            self._drawn.popitem(last=False)
        return image


def moments(
    rng: np.random.Generator, low_s: float, high_s: float, upto_s: float
) -> NDArray[np.float64]:
    """Return when something changes: times from 0 on, s, apart by `low_s` to `high_s`."""
    count = int(upto_s / low_s) + 2
    return np.concatenate([[0.0], np.cumsum(rng.uniform(low_s, high_s, count))])


def to_and_fro(t_s: float, speed: float, start: float = 0.0) -> float:
    """Return where something is that goes from 0 to 1 and back, `speed` of that a second."""
    return abs((start + speed * t_s) % 2 - 1)


def index_at(times: NDArray[np.float64], t_s: float) -> int:
    """Return which of these moments was the last one by now."""
    return max(0, int(np.searchsorted(times, t_s, side="right")) - 1)
