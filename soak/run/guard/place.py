"""Where the guard of a bench has its socket and its lock; of nothing that takes long to load."""

import hashlib
import os
import tempfile
from pathlib import Path

from soak.errors import UsageError
from soak.words import msg

SOCKET = "socket"
_LONGEST_NAME_BYTES = 100
"""The system's own limit for the path of a local socket is 104 to 108 bytes. Of Linux and BSD, from
memory."""


def guard_place(reports: Path) -> Path:
    """Return where the guard of a bench has its socket and its lock; it may not be there yet.

    It lies beside the soaks, or, where that path is too long for a socket, in the system's folder
    for temporary files.
    """
    folder = Path(os.path.realpath(reports)) / ".guard"  # a link to itself stays one
    if len(os.fsencode(folder / SOCKET)) > _LONGEST_NAME_BYTES:
        name = hashlib.sha256(os.fsencode(folder)).hexdigest()[:16]
        folder = Path(tempfile.gettempdir()) / f"soak-guard-{os.getuid()}-{name}"
    return folder


def guard_folder(reports: Path) -> Path:
    """Return the folder of the guard of a bench; make it.

    Raises
    ------
    UsageError
        If the folder cannot be made, or somebody else could enter it.
    """
    folder = guard_place(reports)
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        folder.mkdir(mode=0o700, exist_ok=True)
        folder.chmod(0o700)
        owner = folder.stat().st_uid
    except OSError as fault:
        raise UsageError(
            msg(
                "{folder}: cannot be used by the guard: {why}",
                folder=str(folder),
                why=str(fault.strerror),
            )
        ) from None
    if owner != os.getuid():
        raise UsageError(
            msg(
                "{folder}: belongs to another user; remove it or move the bench folder",
                folder=str(folder),
            )
        )
    return folder
