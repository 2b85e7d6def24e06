"""What the Linux kernel says of USB: its device events, and its log.

Device events come over a netlink socket and need no permission; they tell arrivals, leavings and
over-current. Resets and failed enumerations make no event: they stand in the kernel's log only,
which may be closed to ordinary users.

References
----------
Linux, lib/kobject_uevent.c (the message: `ACTION@DEVPATH`, then `KEY=value` texts, each ended by a
zero byte); Documentation/ABI/testing/dev-kmsg (a record: `priority,number,time,flags;text`);
drivers/usb/core/hub.c (the texts, and OVER_CURRENT_PORT).
"""

import os
import re
import socket
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from soak.bench.usb.device import path_of_port

_NETLINK_KOBJECT_UEVENT = 15
_KERNEL_GROUP = 1
LONGEST_EVENT_BYTES = 8192
_BUFFER_BYTES = 1 << 20
"""A plugged stick makes some thirty events within milliseconds."""

_RECORD_BYTES = 8192
KMSG = Path("/dev/kmsg")

Kind = Literal["arrival", "leaving", "reset", "descriptor failure", "over-current"]


@dataclass(frozen=True, slots=True)
class UsbEvent:
    """Something that happened at a place.

    Attributes
    ----------
    path : str
        Path of the device, or of the port where one should be.
    text : str
        What the kernel said, for the record.
    """

    kind: Kind
    path: str
    text: str = ""


def parse_event(message: bytes) -> UsbEvent | None:
    """Return what a device event says of a USB device; None if it is about something else."""
    head, *parts = message.decode("utf-8", "replace").split("\0")
    if "@" not in head:
        return None
    keys = dict(part.split("=", 1) for part in parts if "=" in part)
    if keys.get("SUBSYSTEM") != "usb":
        return None
    if "OVER_CURRENT_PORT" in keys:  # told of the hub's interface, not of its device
        return UsbEvent("over-current", path_of_port(keys["OVER_CURRENT_PORT"].rsplit("/", 1)[-1]))
    if keys.get("DEVTYPE") != "usb_device":
        return None
    path = keys.get("DEVPATH", "").rsplit("/", 1)[-1]
    kinds: dict[str, Kind] = {"add": "arrival", "remove": "leaving"}
    kind = kinds.get(keys.get("ACTION", ""))
    return None if kind is None or not path else UsbEvent(kind, path)


_LINE = re.compile(r"^(?:usb|hub) (\S+?)(?::\d+\.\d+)?: (.*)$")
_SAID: Sequence[tuple[Kind, re.Pattern[str]]] = (
    ("reset", re.compile(r"^reset .* USB device number")),
    (
        "descriptor failure",
        re.compile(
            r"device descriptor read/\S+, error|not accepting address|unable to enumerate"
            r"|unable to read config|can't read configurations|can't set config"
            r"|unable to get BOS descriptor set"
        ),
    ),
    ("over-current", re.compile(r"over-current condition")),
)


def parse_record(record: bytes) -> UsbEvent | None:
    """Return what a record of the kernel's log says of a USB device; None if nothing of interest.

    Arrivals and leavings are left to the device events, which are exact.
    """
    prefix, magic, rest = record.decode("utf-8", "replace").partition(";")
    if not magic or prefix.count(",") < 3:
        return None
    line = _LINE.match(rest.split("\n", 1)[0])
    if line is None:
        return None
    place, text = line.groups()
    path = path_of_port(place) or place
    for kind, pattern in _SAID:
        if pattern.search(text):
            return UsbEvent(kind, path, text)
    return None


def open_events() -> socket.socket:
    """Open a socket on which the kernel tells of devices.

    Raises
    ------
    OSError
        If this host has none.
    """
    family = getattr(socket, "AF_NETLINK", None)
    if family is None:
        raise OSError("this system has no netlink")
    events = socket.socket(family, socket.SOCK_DGRAM, _NETLINK_KOBJECT_UEVENT)
    try:
        events.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, _BUFFER_BYTES)
        events.bind((0, _KERNEL_GROUP))
    except OSError:
        events.close()
        raise
    return events


class KernelLog:
    """The kernel's log from now on.

    Raises
    ------
    OSError
        If it may not be read.
    """

    def __init__(self, file: Path = KMSG) -> None:
        self._file = os.open(file, os.O_RDONLY | os.O_NONBLOCK)
        os.lseek(self._file, 0, os.SEEK_END)

    def read(self) -> list[UsbEvent]:
        """Return what was said of USB since the last call; never blocks."""
        events: list[UsbEvent] = []
        while True:
            try:
                record = os.read(self._file, _RECORD_BYTES)
            except BrokenPipeError:
                continue  # records were overwritten before they were read; go on with the next
            except OSError:
                return events  # nothing more for now
            if not record:
                return events
            event = parse_record(record)
            if event is not None:
                events.append(event)

    def close(self) -> None:
        """Let go of it; twice is safe."""
        file = self._file
        self._file = -1
        if file >= 0:
            os.close(file)
