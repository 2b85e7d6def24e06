"""A PyUSB backend without hardware: hubs of both kinds and what hangs on them.

It answers the requests of USB 2.0 chapters 9 and 11 and of USB 3.0 chapter 10 byte by byte, so that
the program's own wrapper and PyUSB itself run unchanged above it.
"""

import errno
from array import array
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

import usb.backend
import usb.core

PER_PORT, GANGED, NO_SWITCHING = 0x0009, 0x0000, 0x0012
"""wHubCharacteristics: power and over-current one by one; all together; neither."""
SPEED = {1.5: 1, 12.0: 2, 480.0: 3, 5000.0: 4, 10000.0: 5, 20000.0: 6}


@dataclass
class Port:
    """One port of a hub: its power as commanded, and the faults it may have."""

    powered: bool = True
    connected: bool = False
    speed_mbps: float = 480.0
    over_current: bool = False


@dataclass
class Device:
    """A device; a hub if it has ports.

    Attributes
    ----------
    obeys : bool
        Whether a hub's ports follow the commands; many only say so.
    trouble : int
        Error number that every request is answered with; 0 for none.
    """

    bus: int
    ports: tuple[int, ...]
    address: int
    vendor: int = 0x1234
    product: int = 0x5678
    serial: str = ""
    speed_mbps: float = 480.0
    hub_ports: list[Port] = field(default_factory=list)
    characteristics: int = PER_PORT
    obeys: bool = True
    trouble: int = 0
    asked: list[tuple[int, int, int, int]] = field(default_factory=list)

    @property
    def super_speed(self) -> bool:
        return self.speed_mbps >= 5000


def port_word(port: Port, super_speed: bool) -> int:
    """Write wPortStatus as USB 2.0 table 11-21 and USB 3.0 table 10-10 have it."""
    word = 0x0001 | 0x0002 if port.connected and port.powered else 0
    word |= 0x0008 if port.over_current else 0
    if super_speed:
        word |= 0x0200 if port.powered else 0
        return word | (0 if port.connected else 0x00A0)
    word |= 0x0100 if port.powered else 0
    if port.connected and port.powered:
        word |= {1.5: 0x0200, 480.0: 0x0400}.get(port.speed_mbps, 0)
    return word


class ModelBackend(usb.backend.IBackend):
    """Devices by bus and ports."""

    def __init__(self, *devices: Device) -> None:
        self.devices = list(devices)

    def enumerate_devices(self) -> Any:
        return iter(list(self.devices))

    def get_parent(self, dev: Device) -> None:
        return None

    def get_device_descriptor(self, dev: Device) -> SimpleNamespace:
        return SimpleNamespace(
            bLength=18,
            bDescriptorType=1,
            bcdUSB=0x0300 if dev.super_speed else 0x0200,
            bDeviceClass=9 if dev.hub_ports else 0,
            bDeviceSubClass=0,
            bDeviceProtocol=0,
            bMaxPacketSize0=64,
            idVendor=dev.vendor,
            idProduct=dev.product,
            bcdDevice=0x0100,
            iManufacturer=0,
            iProduct=0,
            iSerialNumber=3 if dev.serial else 0,
            bNumConfigurations=1,
            bus=dev.bus,
            address=dev.address,
            port_number=dev.ports[-1] if dev.ports else 0,
            port_numbers=dev.ports or None,
            speed=SPEED[dev.speed_mbps],
        )

    def open_device(self, dev: Device) -> Device:
        if dev.trouble == errno.EACCES:
            raise usb.core.USBError("Access denied (insufficient permissions)", -3, errno.EACCES)
        return dev

    def close_device(self, handle: Device) -> None:
        pass

    def ctrl_transfer(self, handle, kind, request, value, index, data, timeout):
        handle.asked.append((kind, request, value, index))
        if handle.trouble:
            raise usb.core.USBError("refused", None, handle.trouble)
        if kind == 0x23:
            return self._feature(handle, request, value, index)
        answer = self._answer(handle, kind, request, value, index)
        data[: len(answer)] = array("B", answer[: len(data)])
        return min(len(answer), len(data))

    def _feature(self, hub: Device, request: int, value: int, index: int) -> int:
        if value != 8 or not 1 <= index <= len(hub.hub_ports):
            raise usb.core.USBError("Pipe error", -9, errno.EPIPE)
        if hub.obeys:
            hub.hub_ports[index - 1].powered = request == 3
        return 0

    def _answer(self, dev: Device, kind: int, request: int, value: int, index: int) -> bytes:
        if kind == 0xA0 and request == 6 and dev.hub_ports:
            return hub_descriptor(dev)
        if kind == 0xA3 and request == 0 and 1 <= index <= len(dev.hub_ports):
            word = port_word(dev.hub_ports[index - 1], dev.super_speed)
            return word.to_bytes(2, "little") + b"\x00\x00"
        if kind == 0x80 and request == 6 and value == 0x0100:
            return bytes.fromhex("1201000200000040341278560001000000 01".replace(" ", ""))
        if kind == 0x80 and request == 6 and value >> 8 == 3:
            text = "\x09\x04" if value & 0xFF == 0 else dev.serial
            raw = text.encode("latin-1") if value & 0xFF == 0 else text.encode("utf-16-le")
            return bytes([len(raw) + 2, 3]) + raw
        raise usb.core.USBError("Pipe error", -9, errno.EPIPE)


def hub_descriptor(hub: Device) -> bytes:
    """Write a hub descriptor: USB 2.0 table 11-13, USB 3.0 table 10-3."""
    head = bytes([len(hub.hub_ports)]) + hub.characteristics.to_bytes(2, "little") + b"\x32\x64"
    if hub.super_speed:
        return b"\x0c\x2a" + head + b"\x04\x00\x00\x00\x00"
    return b"\x09\x29" + head + b"\x00\xff"
