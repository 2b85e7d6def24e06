"""What a host has to watch USB by: its events, its list of devices, its log, libusb."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import trio

from soak.bench.usb.device import Devices, UsbFault
from soak.bench.usb.events import LONGEST_EVENT_BYTES, KernelLog, UsbEvent, parse_event
from soak.bench.usb.libusb import LibUsb
from soak.bench.usb.sysfs import SysfsDevices
from soak.words import msg

Way = Literal["auto", "kernel", "poll", "libusb"]
"""How a device is watched."""

_BURST_S = 0.02
"""What the kernel tells within so long is one piece of news: a stick makes thirty events. Our own
choice."""


@dataclass
class Eyes:
    """What the link is watched by.

    Attributes
    ----------
    look : callable
        Returns the devices that are plugged in; blocks.
    events : trio socket or None
        Where the kernel tells of devices.
    log : KernelLog or None
        Where it tells of resets.
    libusb : LibUsb or None
        By which hub and device are asked.
    cannot : dict of str to str
        What is not seen, and why.
    """

    way: str
    look: Callable[[], Devices]
    events: trio.socket.SocketType | None
    log: KernelLog | None
    libusb: LibUsb | None
    cannot: dict[str, str]

    def close(self) -> None:
        if self.events is not None:
            self.events.close()
        if self.log is not None:
            self.log.close()


def open_eyes(way: Way, asks_device: bool, sysfs: SysfsDevices, backend: Any = None) -> Eyes:
    """Open what the host has to watch a device by; blocks. The events are opened in the loop.

    Raises
    ------
    UsbFault
        If it has nothing.
    """
    cannot: dict[str, str] = {}
    if way == "auto":
        way = "kernel" if sysfs.there else "libusb"
    if way in ("kernel", "poll") and not sysfs.there:
        raise UsbFault(msg("this system has no list of USB devices; write way = 'libusb'"))
    libusb = _open_libusb(way, backend, cannot)
    log = None
    try:
        log = KernelLog()
    except OSError as fault:
        why = f"the kernel's log cannot be read ({fault.strerror})"
        cannot |= {"resets": why, "descriptor_failures": why}
    if asks_device and libusb is not None:
        cannot.pop("descriptor_failures", None)
    if way == "libusb":
        assert libusb is not None
        if log is None:
            cannot["over_current"] = "libusb does not count it"
        return Eyes(way, libusb.read, None, log=log, libusb=libusb, cannot=cannot)
    return Eyes(way, sysfs.read, None, log=log, libusb=libusb, cannot=cannot)


def _open_libusb(way: str, backend: Any, cannot: dict[str, str]) -> LibUsb | None:
    try:
        return LibUsb(backend)
    except UsbFault as fault:
        if way == "libusb":
            raise
        cannot["port"] = str(fault)
        return None


async def received(
    events: trio.socket.SocketType | None, wait_s: float, now_s: Callable[[], float]
) -> tuple[float, list[bytes]]:
    """Return when the first message came, and those that came with it; none after `wait_s`."""
    records: list[bytes] = []
    came_s = now_s()
    if events is None:
        await trio.sleep(wait_s)
        return came_s, records
    with trio.move_on_after(wait_s):
        records.append(await _message(events))
    came_s = now_s()
    with trio.move_on_after(_BURST_S if records else 0.0):
        while records:
            records.append(await _message(events))
    return came_s, records


async def _message(events: trio.socket.SocketType) -> bytes:
    try:
        return await events.recv(LONGEST_EVENT_BYTES)
    except OSError:
        return b""  # too many came at once: the next look at the list makes up for it


def parsed(messages: Sequence[bytes]) -> list[UsbEvent]:
    """Return what the messages say of USB devices."""
    events = (parse_event(message) for message in messages)
    return [event for event in events if event is not None]
