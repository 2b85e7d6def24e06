"""Room on the medium that something is copied to, and what to say when the medium fails."""

import errno
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from soak.errors import BenchFault, UsageError
from soak.journal.faults import NO_ROOM
from soak.room import free_bytes
from soak.words import Amount, msg

_REFUSED = (errno.EACCES, errno.EPERM, errno.EROFS, errno.ENAMETOOLONG, errno.EBUSY)
SAME_DISK = msg("MIND: it lies on the same disk as the bench, and goes when that goes")
"""Said of a backup."""
_KEEP_FREE_BYTES = 1 << 20
"""Asked for beside the files themselves, B: the manifest, folders, what a running soak writes
meanwhile. Own choice."""


def refuse_what_does_not_fit(folder: Path, size_bytes: int) -> None:
    """Refuse to begin what cannot end.

    Raises
    ------
    UsageError
        Names how much is needed and how much is free.
    """
    free = free_bytes(folder)
    need = size_bytes + _KEEP_FREE_BYTES
    if free is not None and free < need:
        raise UsageError(
            msg(
                "{folder}: {need} are needed and {free} are free; make room, or name a place on a "
                "larger disk",
                folder=str(folder),
                need=Amount(need, "B"),
                free=Amount(free, "B"),
            )
        )


@contextmanager
def in_one_sentence(place: Path) -> Iterator[None]:
    """Tell in one sentence that a medium failed while something was copied.

    Raises
    ------
    UsageError
        If this user may not write there.
    BenchFault
        If it is full, or fails.
    """
    try:
        yield
    except OSError as fault:
        why = str(fault.strerror or fault)
        if fault.errno in _REFUSED:
            raise UsageError(
                msg("{place}: cannot be written: {why}", place=str(place), why=why)
            ) from None
        told = msg("{place}: failed: {why}; nothing is left of it", place=str(place), why=why)
        if fault.errno in NO_ROOM:
            told = msg("{place}: there is no room left; nothing is left of it", place=str(place))
        raise BenchFault("disk", told) from None
