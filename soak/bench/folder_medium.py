"""A stick mounted as a folder: opened at its place, or wherever else the same one is mounted.

Runs in the child process; only the standard library is imported.
"""

import errno
import os
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from soak.bench import mounts
from soak.bench.stick_folder import DATA, FOLDER, Refused, open_own, room
from soak.bench.uncached import SAFE, Opened


@dataclass(frozen=True, slots=True)
class FolderOrder:
    """Which stick to open.

    Attributes
    ----------
    folder : str
        Where the stick is mounted, or a folder on it.
    size_bytes : int
        How much may be filled.
    stick_id : str
        Open only the stick with this id; empty: whatever is there, and give it one.
    inside : str
        Path of the folder within its mount, to find it under another mount.
    vouched : tuple of str
        Kinds of file systems the operator vouches for.
    """

    folder: str
    size_bytes: int
    stick_id: str = ""
    inside: str = ""
    vouched: tuple[str, ...] = ()

    def open(self) -> tuple[Opened, dict[str, Any]]:
        """Open it; return it with what it is.

        Raises
        ------
        Refused
            If the folder cannot or must not be used.
        OSError
            If the stick with the id is not there (ENODEV).
        """
        places = [self.folder, *(_other_places(self) if self.stick_id else ())]
        for place in places:
            try:
                return _open_at(place, self)
            except (OSError, Refused):
                if not self.stick_id:
                    raise
        raise OSError(errno.ENODEV, "the stick is not there")


def _other_places(order: FolderOrder) -> list[str]:
    points = [one.point for one in mounts.table() if one.kind in mounts.ON_A_BLOCK_DEVICE]
    places = [str(Path(point) / order.inside) for point in dict.fromkeys(points)]
    return [place for place in places if place != order.folder and Path(place, FOLDER).is_dir()]


def _open_at(place: str, order: FolderOrder) -> tuple[Opened, dict[str, Any]]:
    folder_fd, data_fd, direct, stick_id = open_own(place, order.stick_id, order.size_bytes)
    mount = mounts.mount_of(place, mounts.table())
    why_cached = mounts.why_cached(mount, order.vouched)
    reopen = partial(os.open, DATA, os.O_RDWR | SAFE, dir_fd=folder_fd)
    medium = Opened(data_fd, (folder_fd,), direct, why_cached, reopen=reopen)
    found: dict[str, Any] = {"folder": place, "stick_id": stick_id, "direct": direct}
    found |= room(data_fd)
    if why_cached:
        found["why_cached"] = why_cached
    if mount is not None:
        found |= {"file_system": mount.kind, "device": mount.source}
        found["inside"] = os.path.relpath(Path(place).resolve(), mount.point)
        found |= mounts.usb_above(mounts.block_device(mount.source))
    return medium, found
