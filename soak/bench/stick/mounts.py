"""Which file system a folder lies on, and whether a read of it can be made to reach the medium.

Little is imported here: it runs in the child process that does a stick's work.
"""

import stat
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

SYSFS = Path("/sys")

ON_A_BLOCK_DEVICE = frozenset(
    {
        *("ext2", "ext3", "ext4", "xfs", "btrfs", "f2fs", "jfs", "reiserfs", "udf"),
        *("vfat", "msdos", "exfat", "ntfs3", "hfs", "hfsplus", "apfs"),
    }
)
"""Kernel file systems whose direct reads go to the block device below. A list of the good, since
others take the flag for direct reads and answer from memory: tmpfs does, from Linux 6.6 on (tried
on 6.18), and what stands behind a FUSE or network file system may keep a cache of its own."""


@dataclass(frozen=True, slots=True)
class Mount:
    """One line of the mount table."""

    point: str
    kind: str
    source: str


def table() -> list[Mount]:
    """Return what is mounted now, in that order; empty where the system does not say."""
    import psutil  # here: the child is up 20 ms sooner

    try:
        partitions = psutil.disk_partitions(all=True)
    except OSError:
        return []
    return [
        Mount(partition.mountpoint, partition.fstype, partition.device) for partition in partitions
    ]


def mount_of(folder: str, mounts: Sequence[Mount]) -> Mount | None:
    """Return the mount a folder lies in: the longest that holds it, the latest of equal ones."""
    at = Path(folder).resolve()
    holding = [mount for mount in mounts if at.is_relative_to(mount.point)]
    return max(reversed(holding), key=lambda mount: len(mount.point), default=None)


def on_own_disk(folder: Path) -> bool:
    """Return whether a folder lies on the disk that holds this system or this program."""
    own = (Path("/"), Path.home(), Path(__file__))
    return folder.stat().st_dev in {place.stat().st_dev for place in own if place.exists()}


def why_cached(mount: Mount | None, vouched: Sequence[str] = ()) -> str:
    """Say why a direct read of this mount may still come from a cache; empty if it may not.

    Parameters
    ----------
    vouched : sequence of str
        Kinds of file systems of which the operator knows that they ask the medium each time.
    """
    if mount is None:
        return "this system does not say which file system the folder lies on"
    if mount.kind in vouched:
        return ""
    if mount.kind not in ON_A_BLOCK_DEVICE:
        return f"a file system of kind {mount.kind} may answer from memory"
    if sys.platform == "darwin" and mount.source.startswith("/dev/disk"):
        return ""
    device = block_device(mount.source)
    if device is None:
        return f"{mount.source} is no block device that can be looked at"
    if device.name.startswith(("ram", "zram")):
        return f"{device.name} is memory"
    if device.name.startswith("loop") and _text(device / "loop" / "dio") != "1":
        return f"{device.name} reads its file through a cache (losetup --direct-io=on ends that)"
    return ""


def block_device(source: str) -> Path | None:
    """Return the folder of a block device in sysfs, None if `source` is none."""
    try:
        status = Path(source).stat()
    except OSError:
        return None
    if not stat.S_ISBLK(status.st_mode):
        return None
    major = status.st_rdev >> 8 & 0xFFF
    minor = status.st_rdev & 0xFF | status.st_rdev >> 12 & ~0xFF
    path = SYSFS / "dev" / "block" / f"{major}:{minor}"
    return path.resolve() if path.exists() else None


def usb_above(device: Path | None) -> dict[str, str | float]:
    """Return what USB says of the device a block device hangs on: link speed, serial number.

    Returns
    -------
    dict
        `link_mbps` (1.5, 12, 480, 5000, ...), `serial`, `usb_port`; empty if it is not on USB.
    """
    for folder in device.parents if device is not None else ():
        if not (folder / "idVendor").exists():
            continue
        port: dict[str, str | float] = {"usb_port": folder.name}
        if serial := _text(folder / "serial"):
            port["serial"] = serial
        try:
            port["link_mbps"] = float(_text(folder / "speed"))
        except ValueError:
            return port
        return port
    return {}


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        return ""
