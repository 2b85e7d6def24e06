"""What USB devices and hubs are plugged in, each with the TOML to paste.

Blocks for a moment; needs no permission on Linux.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass

from soak.bench.usb.device import UsbDevice, UsbFault
from soak.bench.usb.libusb import LibUsb
from soak.bench.usb.sysfs import SysfsDevices
from soak.bench.usb.words import speed_name
from soak.pasting import pasted, remarked
from soak.words import Message, joined, msg


@dataclass(frozen=True, slots=True)
class FoundUsb:
    """A USB device that is plugged in.

    Attributes
    ----------
    name : str
        How a fixture should name it: by its serial number, or by its place if it has a twin.
    description : Message
        What it is, where it is, and how fast.
    toml : str
        Entries to paste into a fixture and adapt.
    """

    device: UsbDevice
    name: str
    description: Message
    toml: Message


def find_usb(devices: Mapping[str, UsbDevice] | None = None) -> list[FoundUsb]:
    """Return the devices that are plugged in, root hubs left out.

    Parameters
    ----------
    devices : mapping or None
        None: ask the system; nothing is found where it has neither a list nor libusb.
    """
    there = _list() if devices is None else devices
    plugged = [device for device in there.values() if not device.is_root]
    return [_found(device, plugged) for device in sorted(plugged, key=lambda one: one.path)]


def _list() -> Mapping[str, UsbDevice]:
    sysfs = SysfsDevices()
    try:
        return sysfs.read() if sysfs.there else LibUsb().read()
    except (UsbFault, OSError):
        return {}


def _found(device: UsbDevice, plugged: list[UsbDevice]) -> FoundUsb:
    twins = [other for other in plugged if other.best_name == device.best_name]
    name = device.best_name if len(twins) == 1 else device.path
    speed = None if device.speed_mbps is None else speed_name(device.speed_mbps)
    what = device.text or (msg("hub") if device.is_hub else msg("device"))
    where = msg("{name} at {path}", name=device.best_name, path=device.path)
    entry = f"device = {json.dumps(name)}"
    place = msg("{count} of a kind: named by its place", count=len(twins))
    toml = pasted(
        "[link]",
        'driver = "usb_link"',
        entry if len(twins) == 1 else remarked(entry, place),
        'port = "usb1"',
    )
    if device.is_hub:
        prove = msg("if it switches its ports one by one: prove it")
        switch = pasted(
            "[switch]",
            remarked('driver = "hub_port"', prove),
            f"hub = {json.dumps(name)}",
            'channel = "1"',
        )
        toml = joined("\n", [toml, switch])
    return FoundUsb(device, name, joined(", ", [what, where, speed]), toml)
