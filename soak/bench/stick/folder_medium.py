"""A stick mounted as a folder: opened at its place, or wherever else the same one is mounted.

Runs in the child process; only the standard library is imported.
"""

import errno
import os
import sys
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from soak.bench import nature
from soak.bench.stick import mounts
from soak.bench.stick.folder import FOLDER, Refused, open_own, reopen_data, room
from soak.bench.stick.uncached import Medium, Opened
from soak.bench.stick.windows_files import Kernel, kernel32
from soak.bench.stick.windows_folder import open_windows_folder, other_places
from soak.words import msg


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
    crosses : bool
        Whether the data crosses a port of the unit: then this computer's own disk is refused.
    """

    folder: str
    size_bytes: int
    stick_id: str = ""
    inside: str = ""
    vouched: tuple[str, ...] = ()
    crosses: bool = False

    def open(self) -> tuple[Medium, dict[str, Any]]:
        """Open it; return it with what it is.

        Raises
        ------
        Refused
            If the folder cannot or must not be used.
        OSError
            If the stick with the id is not there (ENODEV).
        """
        return self.open_with(kernel32() if sys.platform == "win32" else None)

    def open_with(self, windows: Kernel | None) -> tuple[Medium, dict[str, Any]]:
        """Open it by the means of Windows, or of any other system. Raises as `open`."""
        for place in [self.folder, *(_other_places(self, windows) if self.stick_id else ())]:
            try:
                return _open_at(place, self, windows)
            except (OSError, Refused):
                if not self.stick_id:
                    raise
        raise OSError(errno.ENODEV, "the stick is not there")


def _other_places(order: FolderOrder, windows: Kernel | None) -> list[str]:
    if windows is not None:
        return [place for place in other_places(windows, order.inside) if place != order.folder]
    points = [mount.point for mount in mounts.table() if mount.kind in mounts.ON_A_BLOCK_DEVICE]
    places = [str(Path(point) / order.inside) for point in dict.fromkeys(points)]
    return [place for place in places if place != order.folder and Path(place, FOLDER).is_dir()]


def _open_at(
    place: str, order: FolderOrder, windows: Kernel | None
) -> tuple[Medium, dict[str, Any]]:
    if order.crosses and not order.stick_id:
        _refuse_own_disk(place)
    if windows is not None:
        given = (place, order.stick_id, order.size_bytes, order.vouched)
        return open_windows_folder(windows, *given)
    folder_fd, data_fd, direct, stick_id = open_own(place, order.stick_id, order.size_bytes)
    mount = mounts.mount_of(place, mounts.table())
    why_cached = mounts.why_cached(mount, order.vouched)
    reopen = partial(reopen_data, folder_fd)
    medium = Opened(data_fd, (folder_fd,), direct, why_cached, reopen=reopen)
    identity: dict[str, Any] = {"folder": place, "stick_id": stick_id, "direct": direct}
    identity["nature"] = nature.of_folder(place)
    identity |= room(data_fd)
    if why_cached:
        identity["why_cached"] = why_cached
    if mount is not None:
        identity |= {"file_system": mount.kind, "device": mount.source}
        identity["inside"] = os.path.relpath(Path(place).resolve(), mount.point)
        identity |= mounts.usb_above(mounts.block_device(mount.source))
    return medium, identity


def _refuse_own_disk(place: str) -> None:
    """Refuse a folder that no stick is mounted at: its data would cross no port."""
    if Path(place).is_dir() and mounts.on_own_disk(Path(place)):
        raise Refused(
            msg(
                "{place} lies on this computer's own disk, so nothing would cross the unit's "
                'port; mount the stick there, or say path = "bench_only"',
                place=place,
            )
        )
