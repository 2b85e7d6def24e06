"""Room kept back for the end of a soak, so that a full disk does not keep it from being sealed."""

import os
from contextlib import suppress
from pathlib import Path

from soak.errors import JournalFull
from soak.journal.faults import NO_ROOM, writing_fault
from soak.room import told_full
from soak.words import msg

FILE = "reserve"
RESERVE_BYTES = 16 * 1024 * 1024
"""SQLite folds its log, 4 MiB by its default of 1000 pages, into the file when the soak is sealed;
the pages and data of a sample report take 0.7 MB. Our own choice, with room for more pictures."""

_PIECE_BYTES = 1024 * 1024


class Reserve:
    """A file that is there only to be deleted when the disk is full."""

    def __init__(self, folder: Path) -> None:
        self._file = folder / FILE

    def take(self) -> None:
        """Take the room, where a killed soak has not left it taken.

        Raises
        ------
        JournalError
            If there is not so much.
        """
        try:
            handle = os.open(self._file, os.O_RDWR | os.O_CREAT, 0o644)
            try:
                _fill(handle)
            finally:
                os.close(handle)
        except OSError as fault:
            self.give_back()
            raise writing_fault(self._file, fault) from None

    def give_back(self) -> bool:
        """Free the room; return whether there was any."""
        with suppress(OSError):
            self._file.unlink()
            return True
        return False

    def spend(self) -> JournalFull | None:
        """Free the room because the disk is full; return what to tell, None if it is spent."""
        full = told_full(self._file.parent)
        if not self.give_back():
            return None
        return JournalFull(
            msg("{told}; the rest is written into room kept back; make room", told=full)
        )


def _fill(handle: int) -> None:
    """Have the system take the room; where it cannot, write there what no disk can compress."""
    try:
        os.posix_fallocate(handle, 0, RESERVE_BYTES)
    except (AttributeError, OSError) as fault:  # macOS and Windows have no such call
        if getattr(fault, "errno", None) in NO_ROOM:
            raise
        for _ in range(RESERVE_BYTES // _PIECE_BYTES):
            os.write(handle, os.urandom(_PIECE_BYTES))
        os.fsync(handle)
