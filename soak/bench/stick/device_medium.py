"""A whole disk without a file system: opened by serial number, never while anything uses it.

The first MiB is soak's own label with a random id; the data comes after it. Runs in the child
process; only the standard library is imported.
"""

import contextlib
import errno
import json
import mmap
import os
import secrets
from dataclasses import dataclass
from typing import Any

from soak.bench import nature
from soak.bench.stick import mounts
from soak.bench.stick.disks import (
    Disk,
    disk_at,
    disks_with,
    is_block,
    is_read_only,
    what_lies_on,
    why_not,
)
from soak.bench.stick.folder import BLOCK_BYTES, Refused
from soak.bench.stick.uncached import DIRECT, SAFE, Opened
from soak.outside import json_of
from soak.words import msg

LABEL_BYTES = 1 << 20
_BEGINS = b"soak stick\n"


@dataclass(frozen=True, slots=True)
class DeviceOrder:
    """Which disk to open.

    Attributes
    ----------
    device, serial : str
        Device file and serial number as the fixture says.
    stick_id : str
        Open only the disk with this id, whatever it is called now; empty: the first time.
    size_bytes : int
        What it claimed to hold the first time.
    may_label : bool
        Whether a disk without our label may be given one: the operator agreed.
    """

    device: str
    serial: str
    stick_id: str = ""
    size_bytes: int = 0
    may_label: bool = False

    def open(self) -> tuple[Opened, dict[str, Any]]:
        """Open it; return it with what it is. Without `may_label` nothing is written.

        Raises
        ------
        Refused
            If it must not be written over.
        OSError
            If the disk with the id is not there (ENODEV).
        """
        if not (mounts.SYSFS / "block").is_dir():
            raise Refused(
                msg("a whole disk can be written over on Linux only; use the driver folder")
            )
        disk = disk_at(self.device)
        if self.stick_id:
            return self._same_again(disk)
        if why := why_not(self.device if disk is None else disk.node, disk, self.serial):
            raise Refused(why)
        assert disk is not None
        return self._opened(disk)

    def _same_again(self, there: Disk | None) -> tuple[Opened, dict[str, Any]]:
        """Open the disk with the id, be it at its old place or under another name."""
        alike = disks_with(self.serial, self.size_bytes)
        here = [disk for disk in alike if there is not None and disk.folder == there.folder]
        for disk in [*here, *(other for other in alike if other not in here)]:
            if not why_not(disk.node, disk, self.serial, read=True):
                with contextlib.suppress(OSError, Refused):
                    return self._opened(disk)
        raise OSError(errno.ENODEV, "the stick is not there")

    def _opened(self, disk: Disk) -> tuple[Opened, dict[str, Any]]:
        descriptor, direct = _exclusively(disk, known=bool(self.stick_id))
        try:
            stick_id, lies = _label(descriptor, disk)
            if not stick_id and self.stick_id:
                raise OSError(errno.ENODEV, "another stick")
            if not stick_id and self.may_label:
                stick_id = _write_label(descriptor)
            if self.stick_id not in ("", stick_id):
                raise OSError(errno.ENODEV, "another stick")
        except BaseException:
            os.close(descriptor)
            raise
        why_cached = _why_cached(disk, direct)
        identity: dict[str, Any] = {"device": disk.node, "serial": disk.serial, "name": disk.name}
        identity |= {"stick_id": stick_id, "direct": direct, "claims_bytes": disk.size_bytes}
        identity["begins_bytes"] = LABEL_BYTES
        identity["nature"] = nature.of_block(disk.folder)
        identity["room_bytes"] = (disk.size_bytes - LABEL_BYTES) // BLOCK_BYTES * BLOCK_BYTES
        identity |= {"why_cached": why_cached} if why_cached else {}
        identity |= {"holds": lies} if not stick_id else {}
        identity |= {**mounts.usb_above(disk.folder), "serial": disk.serial}
        medium = Opened(descriptor, (), direct, why_cached=why_cached, base_bytes=LABEL_BYTES)
        medium.disk_bytes = disk.size_bytes
        return medium, identity


def _why_cached(disk: Disk, direct: bool) -> str:
    if not direct:
        return "this system reads a whole disk through its cache"
    loop = disk.folder / "loop" / "dio"
    if disk.folder.name.startswith("loop") and loop.read_text().strip() != "1":
        return f"{disk.folder.name} reads its file through a cache"
    return ""


def _exclusively(disk: Disk, *, known: bool) -> tuple[int, bool]:
    """Open a disk for us alone: the kernel refuses what is mounted, swap or part of an array.

    One that is known, and has become read-only, is still there and can be read.
    """
    to_read = known and is_read_only(disk)
    try:
        access = os.O_RDONLY if to_read else os.O_RDWR
        descriptor = os.open(disk.node, access | os.O_EXCL | SAFE | DIRECT)
    except PermissionError:
        raise Refused(
            msg("{node} may not be written by this user; give it to it", node=disk.node)
        ) from None
    except OSError as fault:
        if fault.errno == errno.EBUSY:
            raise Refused(
                msg("{node} is in use; unmount it, or end what uses it", node=disk.node)
            ) from None
        if fault.errno in (errno.EROFS, errno.ENOMEDIUM):
            raise Refused(
                msg("{node} cannot be written ({why})", node=disk.node, why=str(fault.strerror))
            ) from None
        raise
    if not is_block(descriptor):
        os.close(descriptor)
        raise Refused(msg("{node} is no block device; correct device", node=disk.node))
    return descriptor, bool(DIRECT)


def _label(descriptor: int, disk: Disk) -> tuple[str, str]:
    """Return the id on a disk, and what else lies on one that has none."""
    page = mmap.mmap(-1, BLOCK_BYTES)
    os.preadv(descriptor, [page], 0)
    beginning = page[:]
    if not beginning.startswith(_BEGINS):
        return "", what_lies_on(beginning, disk)
    try:
        text = beginning[len(_BEGINS) :].split(b"\n", 1)[0]
        return str(json_of(text)["soak_stick"]), ""
    except (ValueError, KeyError, TypeError):
        return "", "a damaged label of soak's"


def _write_label(descriptor: int) -> str:
    stick_id = secrets.token_hex(8)
    page = mmap.mmap(-1, LABEL_BYTES)
    page.write(_BEGINS + json.dumps({"soak_stick": stick_id}).encode() + b"\n")
    os.pwritev(descriptor, [page], 0)
    os.fsync(descriptor)
    return stick_id
