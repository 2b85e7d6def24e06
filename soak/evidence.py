"""What everybody who reads a soak's records needs of them, wherever they are kept."""

from collections.abc import Sequence
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from soak.records import Header, KeptFile, Mark, Seal, Session, State

Floats = NDArray[np.float64]


class Evidence(Protocol):
    """One soak's records, read; all that rules, judge, report, ledger and live know of them."""

    @property
    def header(self) -> Header:
        """The first record."""
        ...

    @property
    def seal(self) -> Seal | None:
        """The last record; None while the soak runs or if it was cut off."""
        ...

    @property
    def file_sha256(self) -> str:
        """Hexadecimal SHA-256 of the sealed file; empty if it is not sealed."""
        ...

    @property
    def ends_s(self) -> float:
        """Soak time of the last record."""
        ...

    def series(self, quantity: str, stretch: str = "") -> tuple[Floats, Floats]:
        """Return times in s and values, both of shape (n,), in order of time.

        With `stretch`, only what lies within that stretch (all sessions of it).
        """
        ...

    def states(self, source: str) -> Sequence[State]:
        """Return the states of one source in order of time."""
        ...

    def marks(self, what: str = "") -> Sequence[Mark]:
        """Return the marks of one kind, or all, in order of time."""
        ...

    def sessions(self) -> Sequence[Session]:
        """Return the sessions in order."""
        ...

    def kept_files(self) -> Sequence[KeptFile]:
        """Return the kept files in order of time."""
        ...

    def kept_bytes(self, kept: KeptFile) -> bytes:
        """Return a kept file's content.

        Raises
        ------
        JournalError
            If the file is missing or is not the one that was recorded.
        """
        ...

    def windows(self, stretch: str) -> Sequence[tuple[float, float]]:
        """Return begin and end in s of each piece of a stretch (one piece a session)."""
        ...
