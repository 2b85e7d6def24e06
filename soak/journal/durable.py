"""Files that are whole or not there, whatever happens while they are written."""

import os
from pathlib import Path


def write_durable(path: Path, data: bytes, *, sync: bool = True) -> None:
    """Write a file by temporary file, sync, rename, sync of the folder.

    Parameters
    ----------
    sync : bool
        False leaves out both syncs: the file then survives the death of the program, but not a
        power cut.

    Raises
    ------
    OSError
        If a step fails; the file of that name is then the old one or absent.
    """
    part = path.with_name(f".{path.name}.part")
    with part.open("wb") as file:
        file.write(data)
        file.flush()
        if sync:
            os.fsync(file.fileno())
    part.replace(path)
    if sync:
        sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Make the names in a folder durable, where the system can do that."""
    if os.name != "posix":
        return  # Windows writes names through and cannot open a folder
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
