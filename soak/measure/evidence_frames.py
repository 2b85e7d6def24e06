"""Evidence frames: JPEG files before, during and after each change, bounded in number."""

from collections import Counter
from typing import Literal

from soak.measure.picture import Held
from soak.records import Attachment

Shows = Literal["first", "before", "during", "after"]


class EvidenceFrames:
    """Makes the attachments of one source.

    Parameters
    ----------
    source : str
        What the frames are of.
    names : str
        Beginning of each file name; unique within a soak, so a resumed soak gives another.
    of_a_state, in_all : int
        Largest number of changes shown for any one state, and of frames in all.
    """

    def __init__(self, source: str, names: str, of_a_state: int, in_all: int) -> None:
        self._source, self._names = source, names
        self._of_a_state, self._left = of_a_state, in_all
        self._changes: Counter[str] = Counter()
        self._number = 0

    def begin(self, state: str) -> bool:
        """Count a change into `state`; tell whether it is still to be shown."""
        self._number += 1
        self._changes[state] += 1
        return self._changes[state] <= self._of_a_state and self._left > 0

    def frame(
        self, t_s: float, held: Held | None, shows: Shows, state: str
    ) -> tuple[tuple[Attachment, bytes], ...]:
        """Make one frame of the change that began last; nothing where there is no picture."""
        if held is None or self._left <= 0:
            return ()
        data = held.as_jpeg()
        if not data:
            return ()
        self._left -= 1
        name = f"{self._names}-{self._number:06d}-{state.replace(' ', '-')}-{shows}.jpg"
        detail = {"shows": shows, "state": state}
        return ((Attachment(t_s, name, "image/jpeg", "", self._source, detail), data),)
