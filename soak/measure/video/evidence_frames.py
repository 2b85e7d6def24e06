"""Evidence frames: JPEG files before, during and after each change, bounded in number."""

from collections import Counter
from typing import Literal

from soak.measure.video.picture import Held
from soak.records import KeptFile

ONE_MORE_S = 600.0
"""Time after which one more change of each state is shown, s. Own choice: 48 in 8 h."""

Shows = Literal["first", "before", "during", "after"]


class EvidenceFrames:
    """Makes the kept files of one source.

    Parameters
    ----------
    source : str
        What the frames are of.
    names : str
        Beginning of each file name; unique within a soak, so a resumed soak gives another.
    of_a_state, in_all : int
        Largest number of changes shown for any one state at first, and of frames in all.

    Notes
    -----
    Power cycles lose the picture, too, dozens of times. So that a dropout late in the night is
    still shown, one more change of each state is allowed every `ONE_MORE_S`.
    """

    def __init__(self, source: str, names: str, of_a_state: int, in_all: int) -> None:
        self._source = source
        self._names = names
        self._of_a_state = of_a_state
        self._left = in_all
        self._shown: Counter[str] = Counter()
        self._number = 0
        self._first_s: float | None = None

    def begin(self, t_s: float, state: str) -> bool:
        """Count a change into `state`; tell whether it is still to be shown."""
        self._number += 1
        if self._first_s is None:
            self._first_s = t_s
        allowed = self._of_a_state + int((t_s - self._first_s) / ONE_MORE_S)
        if self._left <= 0 or self._shown[state] >= allowed:
            return False
        self._shown[state] += 1
        return True

    def frame(
        self, t_s: float, held: Held | None, shows: Shows, state: str
    ) -> tuple[tuple[KeptFile, bytes], ...]:
        """Make one frame of the change that began last; nothing where there is no picture."""
        if held is None or self._left <= 0:
            return ()
        data = held.as_jpeg()
        if not data:
            return ()
        self._left -= 1
        name = f"{self._names}-{self._number:06d}-{state.replace(' ', '-')}-{shows}.jpg"
        detail = {"shows": shows, "state": state}
        return (
            (KeptFile(t_s, name, "image/jpeg", sha256="", of=self._source, detail=detail), data),
        )
