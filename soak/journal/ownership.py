"""One writer a journal: a second one would break the chain of the first."""

import os
import sys
from pathlib import Path

from soak.errors import JournalError
from soak.words import msg


def is_owned(folder: Path) -> bool:
    """Return whether a process holds a soak's folder; True where the system cannot tell."""
    if sys.platform == "win32":
        return True
    import fcntl

    handle = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(handle, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except OSError:
        return True
    finally:
        os.close(handle)
    return False


class Ownership:
    """Holds a soak's folder for this process; the system lets go of it if the process dies.

    The lock lies on the folder itself, so that it leaves no file behind.

    Raises
    ------
    JournalError
        If another process (or this one) holds it.
    """

    def __init__(self, folder: Path) -> None:
        self._handle = -1
        if sys.platform == "win32":
            return  # SQLite's own lock has to do: two writers there fail at their first clash
        import fcntl

        self._handle = os.open(folder, os.O_RDONLY)
        try:
            fcntl.flock(self._handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            self.release()
            raise JournalError(
                msg(
                    "{folder}: this soak is being written by a soak program that still runs; stop "
                    "that one first",
                    folder=str(folder),
                )
            ) from None

    def release(self) -> None:
        """Let go; may be called again."""
        if self._handle >= 0:
            os.close(self._handle)
            self._handle = -1
