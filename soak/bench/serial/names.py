"""Naming serial adapters: by path, `VID:PID`, `VID:PID/SERIAL` or serial number.

Device names change and even swap with the order of plugging, so an adapter is known by what it
says of itself, or, where it says nothing, by the socket it is plugged into.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

_USB_NAME = re.compile(r"([0-9A-Fa-f]{4}):([0-9A-Fa-f]{4})(?:/(.+))?")


@dataclass(frozen=True, slots=True)
class Adapter:
    """One serial port that is plugged in.

    Attributes
    ----------
    device : str
        What is opened now, `"/dev/ttyUSB0"`, `"COM3"`.
    usb_id : str
        `"1a86:7523"` in lower case; empty if it is not on USB.
    serial_number : str
        As the adapter says; empty if it says none.
    socket : str
        Where it is plugged in, `"1-1.2"`; empty where unknown.
    description : str
        For people.
    """

    device: str
    usb_id: str = ""
    serial_number: str = ""
    socket: str = ""
    description: str = ""

    @property
    def key(self) -> str:
        """What it is known by, the same after it was plugged out and in again."""
        if self.usb_id and self.serial_number:
            return f"{self.usb_id}/{self.serial_number}"
        if self.usb_id and self.socket:
            return f"{self.usb_id} in socket {self.socket}"
        return self.device

    @property
    def best_name(self) -> str:
        """The name a fixture should use."""
        if self.usb_id and self.serial_number:
            return f"{self.usb_id}/{self.serial_number}"
        return self.usb_id or self.device


def plugged_in() -> list[Adapter]:
    """Return the serial ports the system knows now. Blocks: for a thread."""
    from serial.tools import list_ports

    return [
        Adapter(
            device=port.device,
            usb_id="" if port.vid is None else f"{port.vid:04x}:{port.pid:04x}",
            serial_number=port.serial_number or "",
            socket=port.location or "",
            description=port.description if port.description != "n/a" else "",
        )
        for port in sorted(list_ports.comports(), key=lambda port: port.device)
    ]


def named(name: str, adapters: Sequence[Adapter]) -> Adapter:
    """Return the adapter a fixture names.

    A path need not be among `adapters`: a pseudo terminal or a link is not listed.

    Raises
    ------
    LookupError
        If there is none, or the name fits several; the text says what is there.
    """
    if name.startswith("/") or re.fullmatch(r"COM\d+", name):
        try:
            return _by_path(name, adapters)
        except (OSError, ValueError) as fault:  # too long, a null character
            raise LookupError(f"{name[:60]!r} cannot be a port: {fault}") from None
    usb = _USB_NAME.fullmatch(name)
    if usb:
        usb_id = f"{usb[1]}:{usb[2]}".lower()
        serial_number = usb[3]
        fitting = [
            adapter
            for adapter in adapters
            if adapter.usb_id == usb_id and serial_number in (None, adapter.serial_number)
        ]
    else:
        fitting = [adapter for adapter in adapters if adapter.serial_number == name]
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        several = ", ".join(f"{candidate.device} is {candidate.key}" for candidate in fitting)
        raise LookupError(
            f"{len(fitting)} adapters are named {name}: {several}; "
            "add the serial number, or give the path under /dev/serial/by-path"
        )
    names = ((candidate.best_name, candidate.device) for candidate in adapters)
    there = ", ".join(b if a == b else f"{a} ({b})" for a, b in names) or "none"
    raise LookupError(f"no serial port {name} is plugged in; there: {there}")


def again(known: Adapter, name: str, adapters: Sequence[Adapter]) -> Adapter:
    """Return where the adapter `known`, which a fixture calls `name`, is now.

    Raises
    ------
    LookupError
        If it is not back, or another adapter has taken its path.
    """
    if not known.usb_id:
        return named(name, adapters)
    for adapter in adapters:
        if adapter.key == known.key:
            return adapter
    raise LookupError(f"{known.key} is not plugged in any more; plug it in again")


def _by_path(path: str, adapters: Sequence[Adapter]) -> Adapter:
    real = str(Path(path).resolve())
    for adapter in adapters:
        if adapter.device in (path, real):
            return adapter
    if path.startswith("/") and not Path(path).exists():
        there = ", ".join(candidate.device for candidate in adapters) or "none"
        raise LookupError(
            f"there is no port {path}; plug it in or correct the path; there: {there}"
        )
    return Adapter(device=real if path.startswith("/") else path)
