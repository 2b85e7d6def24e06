"""Whole disks: what each says of itself, and why one must not be written over.

Runs in the child process too, so little is imported.

References
----------
Linux, Documentation/ABI/stable/sysfs-block (size, ro, removable, holders) and
Documentation/filesystems/proc.rst (mountinfo, swaps).
"""

import os
import stat
from dataclasses import dataclass
from pathlib import Path

from soak.bench.stick import mounts
from soak.words import NOTHING_SAID, Message, counted, msg

SWAPS = Path("/proc/swaps")
_SECTOR_BYTES = 512
"""Sizes in sysfs are in units of 512 B whatever the disk's own blocks are."""


@dataclass(frozen=True, slots=True)
class Disk:
    """A whole disk.

    Attributes
    ----------
    node : str
        Its device file.
    folder : Path
        Its folder in sysfs.
    name, serial : str
        Maker and model, and serial number, as it says; for a loop device the file it stands for.
    size_bytes : int
        Bytes it claims to hold.
    """

    node: str
    folder: Path
    name: str
    serial: str
    size_bytes: int


def disk_at(node: str) -> Disk | None:
    """Return the disk of a device file, or of a link to one; None if there is none."""
    folder = mounts.block_device(node)
    return None if folder is None else _disk(os.path.realpath(node), folder)


def disks_with(serial: str, size_bytes: int) -> list[Disk]:
    """Return the disks of this serial number and size, whatever they are called now.

    Several, because makers of cheap sticks give one number to all.
    """
    folders = sorted((mounts.SYSFS / "block").glob("*"))
    disks = (_disk(f"/dev/{folder.name}", folder.resolve()) for folder in folders)
    return [disk for disk in disks if disk.serial == serial and disk.size_bytes == size_bytes]


def _disk(node: str, folder: Path) -> Disk:
    device = folder / "device"
    name = f"{_text(device / 'vendor')} {_text(device / 'model')}".strip()
    naming = (device / "serial", folder / "serial", folder / "loop" / "backing_file")
    serial = str(mounts.usb_above(folder).get("serial", ""))
    serial = serial or next((text for path in naming if (text := _text(path))), "")
    sectors = _text(folder / "size")
    size_bytes = int(sectors) * _SECTOR_BYTES if sectors.isdigit() else 0
    return Disk(node, folder, name, serial=serial, size_bytes=size_bytes)


def why_not(node: str, disk: Disk | None, serial: str, *, read: bool = False) -> Message:
    """Say in one sentence why a device must not be written over; empty if it may.

    Parameters
    ----------
    serial : str
        The serial number that the fixture repeats.
    read : bool
        Whether one that can only be read will do: it was written before.
    """
    if disk is None:
        return msg("{node} is no block device; plug the stick in or correct device", node=node)
    if (disk.folder / "partition").exists():
        return msg(
            "{node} is a part of a disk; give the whole disk, or use the driver folder", node=node
        )
    if not _may_be_pulled(disk.folder):
        return msg(
            "{node} is built into this computer; only what can be pulled may be written over",
            node=node,
        )
    if used := _in_use(disk):
        return msg(
            "{node} {used}; it must be free before it may be written over", node=node, used=used
        )
    if not disk.serial:
        return msg(
            "{node} says no serial number, so it may be any; use the driver folder for it",
            node=node,
        )
    if disk.serial != serial:
        return msg(
            "{node} says serial number {serial}, the fixture says {value}; repeat it in "
            "serial if this is the one to write over",
            node=node,
            serial=disk.serial,
            value=serial or "none",
        )
    if is_read_only(disk) and not read:
        return msg("{node} is read-only; look for a lock slide", node=node)
    if not disk.size_bytes:
        return msg("{node} says that it holds nothing; is a card in the reader?", node=node)
    return NOTHING_SAID


def is_read_only(disk: Disk) -> bool:
    """Return whether the kernel writes nothing to a disk."""
    return _text(disk.folder / "ro") == "1"


def _may_be_pulled(folder: Path) -> bool:
    removable = _text(folder / "removable") == "1"
    return removable or bool(mounts.usb_above(folder)) or folder.name.startswith("loop")


def _in_use(disk: Disk) -> Message:
    parts = [disk.folder, *(path.parent for path in disk.folder.glob("*/partition"))]
    for part in parts:
        if held := sorted(path.name for path in part.glob("holders/*")):
            return msg("is part of {held}", held=held[0])
    for mount in mounts.table():
        if mounts.block_device(mount.source) in parts:
            return msg("is mounted at {point}", point=mount.point)
    for line in _text(SWAPS).splitlines()[1:]:
        if mounts.block_device(line.split()[0]) in parts:
            return msg("is used as swap space")
    return NOTHING_SAID


def what_lies_on(beginning: bytes, disk: Disk) -> Message:
    """Say in a few words what a disk holds, from its first bytes (at least 2048) and parts."""
    parts = len(list(disk.folder.glob("*/partition")))
    if parts:
        return counted(parts, "a table of 1 partition", "a table of {count} partitions")
    if beginning[1080:1082] == b"\x53\xef":
        return msg("an ext file system")
    if beginning[510:512] == b"\x55\xaa":
        return msg("a boot sector (a FAT file system, or a partition table)")
    return msg("data of some kind") if any(beginning) else msg("nothing at its beginning")


def is_block(descriptor: int) -> bool:
    """Return whether an open file is a block device."""
    return stat.S_ISBLK(os.fstat(descriptor).st_mode)


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        return ""
