"""Copies of SQLite files while somebody may be writing them.

References
----------
SQLite documentation: SQLite Backup API; Write-Ahead Logging.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from soak.errors import JournalError
from soak.journal.faults import reading_fault
from soak.journal.ownership import Ownership
from soak.journal.store import read_only

ADDED = ("-wal", "-journal", "-shm")
"""Endings of the files that SQLite puts beside a database."""


def as_it_stands(path: Path) -> bytes:
    """Return an SQLite file as its last whole transaction left it; whoever writes goes on.

    Raises
    ------
    JournalError
        If it cannot be read.
    """
    with read_only(path) as db, closing(sqlite3.connect(":memory:")) as copy:
        try:
            db.backup(copy)
            return copy.serialize()
        except sqlite3.Error as fault:
            raise reading_fault(path, fault) from None


@contextmanager
def unwritten(folder: Path) -> Iterator[bool]:
    """Hold a soak's folder, so that nobody goes on with it; False if a program is writing it."""
    try:
        held = Ownership(folder)
    except (JournalError, OSError):
        yield False
        return
    try:
        yield True
    finally:
        held.release()
