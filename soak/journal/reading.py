"""The questions evidence answers, the same for a file and for a journal in memory."""

from collections.abc import Sequence
from operator import attrgetter

import numpy as np

from soak.errors import JournalError
from soak.evidence import Floats
from soak.journal.contents import Contents
from soak.records import Header, KeptFile, Mark, Seal, Session, State
from soak.words import msg

_time = attrgetter("t_s")


class ReadsContents:
    """Answers from contents that `contents` provides; base of both kinds of evidence."""

    def contents(self) -> Contents:
        """Return what the journal says."""
        raise NotImplementedError

    @property
    def header(self) -> Header:
        header = self.contents().header
        if header is None:
            raise JournalError(
                msg("the journal holds no header: the soak was cut off before it began")
            )
        return header

    @property
    def seal(self) -> Seal | None:
        return self.contents().seal

    @property
    def ends_s(self) -> float:
        contents = self.contents()
        return max((contents.part_ends_s(n) for n in range(len(contents.parts))), default=0.0)

    def series(self, quantity: str, stretch: str = "") -> tuple[Floats, Floats]:
        times, values = self.contents().series(quantity)
        if not stretch:
            return times, values
        inside = np.zeros(len(times), dtype=bool)
        for begins_s, ends_s in self.windows(stretch):
            first = int(np.searchsorted(times, begins_s, side="left"))
            inside[first : int(np.searchsorted(times, ends_s, side="right"))] = True
        return times[inside], values[inside]

    def sources(self) -> Sequence[str]:
        """Return the names of all sources that have a state, sorted."""
        return sorted({state.source for state in self.contents().states})

    def states(self, source: str) -> Sequence[State]:
        states = [state for state in self.contents().states if state.source == source]
        return sorted(states, key=_time)

    def marks(self, what: str = "") -> Sequence[Mark]:
        parts = self.contents().parts
        marks = [mark for part in parts for mark in part.marks if what in ("", mark.what)]
        return sorted(marks, key=_time)

    def sessions(self) -> Sequence[Session]:
        return [part.session for part in self.contents().parts]

    def kept_files(self) -> Sequence[KeptFile]:
        return sorted(self.contents().kept_files, key=_time)

    def windows(self, stretch: str) -> Sequence[tuple[float, float]]:
        return self.contents().windows(stretch)
