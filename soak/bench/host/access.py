"""Whether this user may open a device, and what would let him: a group, or a rule of udev's."""

import os
import stat
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum, auto
from pathlib import Path

from soak.bench.usb.sysfs import device_above

RULES_FILE = "/etc/udev/rules.d/70-soak.rules"
"""Where our rules go; they are read in the order of their names (udev(7))."""
_GROUPS = {"tty": ("dialout", "uucp"), "video4linux": ("video",)}
"""Groups that systems have for a kind of device; the first that is there is taken. Common practice:
Debian's and its kin's, and others'."""
_PLUGGED = ("plugdev",)
"""The group for whatever else is plugged in. Common practice, as above."""
_BOTH_WAYS = stat.S_IRGRP | stat.S_IWGRP


class Help(Enum):
    """What lets a user open a device."""

    JOIN = auto()
    """Joining the group that owns it."""
    LOG_IN = auto()
    """Logging in anew: he has joined that group since he logged in."""
    RULE = auto()
    """A rule: it belongs to no group that one should join."""


@dataclass(frozen=True, slots=True)
class Person:
    """Who runs this program.

    Attributes
    ----------
    name : str
        His name, or his number where he has none.
    groups : frozenset of int
        The groups of this program.
    joined : frozenset of int
        The groups that the system's list says he is in.
    """

    name: str
    groups: frozenset[int]
    joined: frozenset[int]


@dataclass(frozen=True, slots=True)
class Barred:
    """Why a device may not be opened: it is another's.

    Attributes
    ----------
    group : str
        The group that owns it; of a rule, the one that it should get.
    """

    help_: Help
    group: str


def this_person() -> Person:
    """Return who runs this program."""
    if sys.platform == "win32":
        return Person(os.environ.get("USERNAME", ""), frozenset(), frozenset())
    import grp
    import pwd

    try:
        name = pwd.getpwuid(os.getuid()).pw_name
    except KeyError:
        name = str(os.getuid())
    joined = {group.gr_gid for group in grp.getgrall() if name in group.gr_mem}
    return Person(name, frozenset([os.getegid(), *os.getgroups()]), frozenset(joined))


def barred(node: Path, person: Person, subsystem: str) -> Barred | None:
    """Return why a device may not be read and written; None if it may, or is gone.

    Parameters
    ----------
    subsystem : str
        The kernel's: `tty`, `video4linux`, `block`, `usb`. The group of disks is not to be joined:
        it opens every disk.
    """
    if os.access(node, os.R_OK | os.W_OK):
        return None
    try:
        status = node.stat()
    except OSError:
        return None
    group = _name_of(status.st_gid)
    may = status.st_mode & _BOTH_WAYS == _BOTH_WAYS and status.st_gid != 0
    if may and group and subsystem != "block":
        has_joined = status.st_gid in person.joined - person.groups
        return Barred(Help.LOG_IN if has_joined else Help.JOIN, group)
    return Barred(Help.RULE, plug_group(subsystem))


def plug_group(subsystem: str) -> str:
    """Return the group of this system that is for a kind of device."""
    names = _GROUPS.get(subsystem, _PLUGGED)
    return next((name for name in names if _is_group(name)), names[0])


def is_joined(group: str, person: Person) -> bool:
    """Tell whether a person is in a group, as far as the system's list says."""
    return any(_name_of(number) == group for number in person.joined | person.groups)


def rule_for(subsystem: str, ids: str, group: str, kernel: str = "") -> str:
    """Return the rule that gives one kind of USB device, or one device by its name, to a group.

    Parameters
    ----------
    subsystem : str
        The kernel's: `tty`, `video4linux`, `block`, `usb`.
    ids : str
        `VID:PID`; empty: any.
    kernel : str
        What the kernel calls it, `ttyS0`, for one that is not on USB; empty: any.

    References
    ----------
    udev(7): `ATTR` is of the device itself, `ATTRS` of one above it.
    """
    its_own = subsystem == "usb"
    key = "ATTR" if its_own else "ATTRS"
    vendor, _, product = ids.partition(":")
    terms = [
        f'SUBSYSTEM=="{subsystem}"',
        *([f'KERNEL=="{kernel}"'] if kernel else []),
        *(['ENV{DEVTYPE}=="usb_device"'] if its_own else []),
        *([f'{key}{{idVendor}}=="{vendor}"', f'{key}{{idProduct}}=="{product}"'] if ids else []),
        'MODE="0660"',
        f'GROUP="{group}"',
    ]
    return ", ".join(terms)


def rule_commands(rule: str, group: str, person: Person) -> Sequence[str]:
    """Return the commands that make a rule hold, and let a person into its group."""
    return [
        f"echo '{rule}' | sudo tee -a {RULES_FILE}",
        "sudo udevadm control --reload && sudo udevadm trigger",
        *([] if _is_group(group) else [f"sudo groupadd {group}"]),
        *([] if is_joined(group, person) else [join_command(group, person)]),
    ]


def join_command(group: str, person: Person) -> str:
    """Return the command that lets a person into a group, from the next time he logs in."""
    return f"sudo usermod -aG {group} {person.name}"


def ids_of(entry: Path) -> str:
    """Return `VID:PID` of the USB device that an entry of `/sys/class` hangs on; empty if none."""
    folder = device_above(entry)
    if folder is None:
        return ""
    try:
        vendor, product = ((folder / name).read_text().strip() for name in _IDS)
    except (OSError, ValueError):
        return ""
    return f"{vendor}:{product}"


_IDS = ("idVendor", "idProduct")


def _is_group(name: str) -> bool:
    if sys.platform == "win32":
        return False
    import grp

    try:
        grp.getgrnam(name)
    except KeyError:
        return False
    return True


def _name_of(number: int) -> str:
    if sys.platform == "win32":
        return ""
    import grp

    try:
        return grp.getgrgid(number).gr_name
    except KeyError:
        return ""
