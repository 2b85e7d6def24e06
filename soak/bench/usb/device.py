"""USB devices and ports as the host names them: which one is meant, and what it hangs on."""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from soak.bench.usb.words import CLASS_HUB
from soak.words import msg

_BY_ID = re.compile(r"^([0-9a-fA-F]{4}):([0-9a-fA-F]{4})(?:/(.+))?$")
_BY_PATH = re.compile(r"^(\d+)-(\d+(?:\.\d+)*)$")
_ROOT = re.compile(r"^usb(\d+)$")
_PORT = re.compile(r"^(usb\d+|\d+-\d+(?:\.\d+)*)-port(\d+)$")


class UsbFault(Exception):
    """Report what cannot be done on USB; its text is one plain sentence for the operator."""


@dataclass(frozen=True, slots=True)
class UsbDevice:
    """One device on the host's buses.

    Attributes
    ----------
    path : str
        Bus and ports, `"2-1.4"`: bus 2, port 1 of the root hub, port 4 of the hub there; `"usb2"`
        for the root hub of bus 2.
    number : int
        Its number on the bus; another one after each arrival.
    speed_mbps : float or None
        Negotiated signalling rate, Mb/s; None where the host does not say.
    over_current : int
        How often its port was seen over-current since the host started.
    peer : str
        Path of the other half of the same connector: USB 3 connectors have two ports.
    """

    path: str
    number: int
    vendor: int
    product: int
    serial: str = ""
    speed_mbps: float | None = None
    device_class: int = 0
    text: str = ""
    over_current: int = 0
    peer: str = ""

    @property
    def best_name(self) -> str:
        """Return how a fixture should name it."""
        return f"{self.vendor:04x}:{self.product:04x}" + (f"/{self.serial}" if self.serial else "")

    @property
    def is_hub(self) -> bool:
        """Whether it is a hub."""
        return self.device_class == CLASS_HUB

    @property
    def is_root(self) -> bool:
        """Whether it is the root hub of a host controller."""
        return _ROOT.match(self.path) is not None


Devices = Mapping[str, UsbDevice]
"""Devices by their path."""


def is_name(name: str) -> bool:
    """Tell whether a text names a device: `VID:PID`, `VID:PID/SERIAL`, or a bus path."""
    return any(pattern.match(name) for pattern in (_BY_ID, _BY_PATH, _ROOT))


def is_path(name: str) -> bool:
    """Tell whether a name is a bus path."""
    return _BY_PATH.match(name) is not None or _ROOT.match(name) is not None


def fits(device: UsbDevice, name: str) -> bool:
    """Tell whether a device is one that `name` means."""
    if is_path(name):
        return name in (device.path, device.peer)
    match = _BY_ID.match(name)
    if match is None:
        return False
    vendor, product, serial = match.groups()
    same = (int(vendor, 16), int(product, 16)) == (device.vendor, device.product)
    return same and (serial is None or serial == device.serial)


def named(name: str, devices: Iterable[UsbDevice]) -> UsbDevice | None:
    """Return the device that a name means; None if it is not there.

    Raises
    ------
    UsbFault
        If several devices go by that name.
    """
    fitting = [device for device in devices if fits(device, name)]
    if len(fitting) > 1:
        places = " and ".join(device.path for device in fitting)
        what = msg("give the path of the one that is meant, or one with a serial number")
        raise UsbFault(
            msg(
                "{found} devices call themselves {name} (at {places}); {what}",
                found=len(fitting),
                name=name,
                places=places,
                what=what,
            )
        )
    return fitting[0] if fitting else None


def hub_and_port(path: str) -> tuple[str, int]:
    """Return the path of the hub that a device hangs on, and the number of the port there.

    Raises
    ------
    ValueError
        If it is a root hub, which hangs on none.
    """
    match = _BY_PATH.match(path)
    if match is None:
        raise ValueError(f"{path} hangs on no hub")
    bus, ports = match.groups()
    above, _, last = ports.rpartition(".")
    return (f"{bus}-{above}" if above else f"usb{bus}"), int(last)


def hubs_above(path: str) -> list[str]:
    """Return the hubs that a device hangs on, the nearest first, the root hub last."""
    hubs = []
    while _ROOT.match(path) is None:
        path, _ = hub_and_port(path)
        hubs.append(path)
    return hubs


def path_of_port(port: str) -> str:
    """Return the path of a device in a port as the kernel names it, `usb2-port5` or `2-1-port4`.

    An empty text if it is no such name.
    """
    match = _PORT.match(port)
    if match is None:
        return ""
    hub, number = match.groups()
    root = _ROOT.match(hub)
    return f"{root[1]}-{number}" if root else f"{hub}.{number}"
