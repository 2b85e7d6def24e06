"""What stands behind a port, a file or an address: a device, or what only stands in for one.

Asked by the drivers when they open; each puts the answer into its identity as `nature`. A system
that does not tell gives `unknown`, never a guess. Also runs in child processes: only the standard
library is imported.

References
----------
Linux, Documentation/admin-guide/devices.txt (major numbers of terminals) and
Documentation/ABI/testing/sysfs-devices-removable.
"""

import ipaddress
import os
import socket
import stat
import sys
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

from soak.bench.stick import mounts
from soak.natures import Nature

_PSEUDO_TERMINALS = frozenset({3, *range(136, 144)})
"""Major numbers of the ends that programs open: the old ones, and those in `/dev/pts`."""
_PRETENDS = ("dummy_hcd", "dummy_udc", "vhci_hcd", "vivid", "vimc", "vim2m", "scsi_debug")
"""Drivers of the kernel that make up a device, or bring one from a program, wherever they sit."""
_VIRTUAL = "devices/virtual"
_MEMORY = ("ram", "zram")


def of_terminal(port: str, on_usb: bool = False) -> Nature:
    """Tell what a serial port is; blocks.

    Parameters
    ----------
    port : str
        What is opened, `"/dev/ttyUSB0"`, `"COM3"`.
    on_usb : bool
        Whether the system names a USB device for it.
    """
    try:
        status = Path(port).stat()
    except OSError:
        return Nature.DEVICE if on_usb else Nature.UNKNOWN
    if not stat.S_ISCHR(status.st_mode):
        return Nature.FILE
    name = Path(port).resolve().name
    if sys.platform == "linux" and os.major(status.st_rdev) in _PSEUDO_TERMINALS:
        return Nature.TERMINAL
    if mounts.SYSFS.is_dir():
        return of_sysfs(mounts.SYSFS / "class" / "tty" / name)
    if name.startswith("ttys"):  # as macOS calls them
        return Nature.TERMINAL
    return Nature.DEVICE if on_usb else Nature.UNKNOWN


def of_node(node: str, group: str) -> Nature:
    """Tell what a device file such as `/dev/video0` is, by its group in sysfs, `video4linux`."""
    return of_sysfs(mounts.SYSFS / "class" / group / Path(node).name)


def of_sysfs(entry: Path) -> Nature:
    """Tell what an entry of sysfs is: one without a device below it is made by a program."""
    if not entry.exists():
        return Nature.UNKNOWN
    place = entry.resolve()
    if _VIRTUAL in str(place) or is_pretended(place):
        return Nature.PROGRAM
    return Nature.DEVICE


def of_usb_path(path: str) -> Nature:
    """Tell what a USB device is, by its path such as `2-1.4`; unknown while it is not there."""
    place = mounts.SYSFS / "bus" / "usb" / "devices" / path
    return of_sysfs(place) if path else Nature.UNKNOWN


def of_udc(name: str) -> Nature:
    """Tell what a device-mode port of this computer is."""
    if is_pretended(Path(name)):
        return Nature.PROGRAM
    return of_sysfs(mounts.SYSFS / "class" / "udc" / name) if name else Nature.UNKNOWN


def of_number_file(file: Path) -> Nature:
    """Tell what a file that holds a number is: the kernel's own, or an ordinary one."""
    place = file.resolve()
    if not place.is_relative_to(mounts.SYSFS.resolve()):
        return Nature.FILE
    return Nature.PROGRAM if is_pretended(place) else Nature.DEVICE


def of_address(address: str) -> Nature:
    """Tell what an address leads to: a program on this computer, or elsewhere; blocks."""
    host = urlsplit(address if "//" in address else f"//{address}").hostname or ""
    return Nature.PROGRAM if not host or _is_here(host) else Nature.ADDRESS


def of_folder(place: str) -> Nature:
    """Tell what a folder lies on: a medium that can be pulled, or something of this computer's."""
    mount = mounts.mount_of(place, mounts.table())
    if mount is None or sys.platform != "linux":
        return Nature.UNKNOWN
    device = mounts.block_device(mount.source)
    return Nature.FOLDER if device is None else of_block(device)


def of_block(device: Path) -> Nature:
    """Tell what a block device is, by its folder in sysfs.

    A disk that is built in is a folder of the bench's own computer: nothing goes over a port.
    """
    if device.name.startswith("loop"):
        return Nature.FILE
    if device.name.startswith(_MEMORY) or is_pretended(device):
        return Nature.PROGRAM
    return Nature.DEVICE if any(map(_says_removable, _upwards(device))) else Nature.FOLDER


def _says_removable(folder: Path) -> bool:
    if (folder / "idVendor").exists():
        return True  # on USB
    try:
        return (folder / "removable").read_text().strip() in ("1", "removable")
    except OSError:
        return _is_card(folder)


def _is_card(folder: Path) -> bool:
    """Tell a memory card from the storage that is soldered in beside it."""
    try:
        return (folder / "type").read_text().strip() == "SD"
    except OSError:
        return False


def _is_here(host: str) -> bool:
    """Tell whether a host is this computer: then a packet to it would leave from its own address.

    None is sent: a datagram socket that is connected only looks up the way.
    """
    try:
        family, kind, _, _, there = socket.getaddrinfo(host, 9, type=socket.SOCK_DGRAM)[0]
        with socket.socket(family, kind) as way:
            way.connect(there)
            here = way.getsockname()[0]
    except (OSError, UnicodeError):
        return False
    return bool(here == there[0] or ipaddress.ip_address(here).is_loopback)


def is_pretended(place: Path) -> bool:
    """Tell whether a driver that makes up devices stands in a path."""
    return any(part.split(".")[0] in _PRETENDS for part in place.parts)


def _upwards(folder: Path) -> Iterator[Path]:
    yield folder
    for above in folder.parents:
        if above == mounts.SYSFS:
            return
        yield above
