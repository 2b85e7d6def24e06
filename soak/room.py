"""Room on the medium that the bench's folder lies on."""

import shutil
from pathlib import Path

from soak.quantities import show_bytes

_NO_ROOM_BYTES = 64 * 1024
"""With less, SQLite cannot even make the 32 KiB of its shared index (SQLite: WAL-mode file format)
beside a page or two."""


def free_bytes(folder: Path) -> int | None:
    """Return how much this user may still write to the medium of a folder, B; None if not told."""
    try:
        return shutil.disk_usage(folder).free
    except OSError:
        return None


def is_full(folder: Path, fault: str = "SQLITE_IOERR") -> bool:
    """Return whether a fault of SQLite's comes of a medium without room.

    It says so itself (`SQLITE_FULL`) where a write finds none, and "input or output failed" where
    it could not make the file of its shared index larger.
    """
    free = free_bytes(folder)
    return fault.startswith("SQLITE_IOERR") and free is not None and free < _NO_ROOM_BYTES


def told_full(folder: Path) -> str:
    """Say that a medium is full, and how much is free."""
    free = free_bytes(folder)
    return "the disk is full" + ("" if free is None else f", {show_bytes(free)} free")
