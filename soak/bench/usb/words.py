"""The words of USB: requests to hubs, port status, hub characteristics, device descriptors.

Pure: bytes and numbers in, plain values out. The second meaning of a bit on a SuperSpeed hub is
kept apart here, so that nobody else has to think of it.

References
----------
Universal Serial Bus Specification 2.0, tables 9-8, 11-13, 11-15, 11-16, 11-17, 11-21 and 11-22;
Universal Serial Bus 3.0 Specification, tables 10-3, 10-6 and 10-10; both as given in the Linux
headers include/uapi/linux/usb/ch9.h and ch11.h.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from soak.instruments import SUPER_MBPS
from soak.words import Amount, Message, in_brackets, joined, just, msg

CLASS_HUB = 0x09
"""bDeviceClass of a hub."""

GET_STATUS = 0
CLEAR_FEATURE = 1
SET_FEATURE = 3
GET_DESCRIPTOR = 6
"""bRequest, USB 2.0 table 9-4; the hub class uses the same numbers (table 11-16)."""

HUB_DESCRIPTOR_FROM = 0xA0
PORT_STATUS_FROM = 0xA3
PORT_FEATURE_TO = 0x23
DEVICE_DESCRIPTOR_FROM = 0x80
"""bmRequestType: direction, type (class 1 in bits 5 and 6), recipient (device 0, other 3)."""

PORT_POWER = 8
"""Feature selector of a port's power, USB 2.0 table 11-17."""

DT_DEVICE = 0x01
DT_HUB = 0x29
DT_SUPER_HUB = 0x2A
"""Descriptor types."""

SPEEDS_MBPS = (1.5, 12.0, 480.0, 5000.0, 10000.0, 20000.0)
"""Signalling rates in Mb/s: low, full, high, SuperSpeed, SuperSpeed 10 and 20 Gb/s. Our own
choice."""

LIBUSB_SPEED_MBPS: Mapping[int, float] = MappingProxyType(dict(enumerate(SPEEDS_MBPS, 1)))
"""`enum libusb_speed` of libusb-1.0's libusb.h: 1 low ... 6 SuperSpeed Plus x2; in Mb/s."""

_CONNECTED = 0x01
_ENABLED = 0x02
_SUSPENDED = 0x04
_OVER_CURRENT = 0x08
_RESET = 0x10
_POWER = 0x0100
_LOW_SPEED = 0x0200
_HIGH_SPEED = 0x0400
_SUPER_POWER = 0x0200
_SUPER_LINK = 0x01E0
_SUPER_LINKS = (
    "U0",
    "U1",
    "U2",
    "U3",
    "disabled",
    "no receiver detected",
    "inactive",
    "polling",
    "recovery",
    "hot reset",
    "compliance mode",
    "loopback",
)
"""Link states in bits 5 to 8 of a SuperSpeed port's status, USB 3.0 table 10-10."""


@dataclass(frozen=True, slots=True)
class PortStatus:
    """What a hub says of one of its ports.

    Attributes
    ----------
    speed_mbps : float or None
        What the word says of the speed, Mb/s; None where nothing is connected and enabled.
    link : str
        State of a SuperSpeed link; empty on a USB 2 hub.
    changed : tuple of str
        What the hub says has changed since the change was last cleared.
    """

    connected: bool
    enabled: bool
    suspended: bool
    over_current: bool
    in_reset: bool
    powered: bool
    speed_mbps: float | None
    link: str
    changed: tuple[str, ...]

    @property
    def words(self) -> tuple[str, ...]:
        """Return what is so, in words."""
        known = {
            "connected": self.connected,
            "enabled": self.enabled,
            "suspended": self.suspended,
            "over-current": self.over_current,
            "reset": self.in_reset,
            "power": self.powered,
        }
        return tuple(name for name, is_so in known.items() if is_so)


def port_status(status: int, change: int, super_speed: bool) -> PortStatus:
    """Decode wPortStatus and wPortChange.

    Parameters
    ----------
    super_speed : bool
        Whether the hub is the SuperSpeed half of a USB 3 hub: there 0x0200 is power, while on a
        USB 2 hub 0x0100 is power and 0x0200 says that a low-speed device is attached.

    References
    ----------
    USB 2.0 tables 11-21 and 11-22; USB 3.0 table 10-10.
    """
    enabled = bool(status & _ENABLED)
    powered = bool(status & (_SUPER_POWER if super_speed else _POWER))
    return PortStatus(
        connected=bool(status & _CONNECTED),
        enabled=enabled,
        suspended=not super_speed and bool(status & _SUSPENDED),
        over_current=bool(status & _OVER_CURRENT),
        in_reset=bool(status & _RESET),
        powered=powered,
        speed_mbps=_speed(status, super_speed) if enabled else None,
        link=_super_link(status) if super_speed else "",
        changed=_changes(change),
    )


def _speed(status: int, super_speed: bool) -> float:
    if super_speed:
        return SUPER_MBPS  # a faster one is told by the extended status only
    if status & _LOW_SPEED:
        return 1.5
    return 480.0 if status & _HIGH_SPEED else 12.0


def _super_link(status: int) -> str:
    number = (status & _SUPER_LINK) >> 5
    return _SUPER_LINKS[number] if number < len(_SUPER_LINKS) else f"reserved {number}"


def _changes(change: int) -> tuple[str, ...]:
    bits = {
        "connection": _CONNECTED,
        "enable": _ENABLED,
        "suspend": _SUSPENDED,
        "over-current": _OVER_CURRENT,
        "reset": _RESET,
    }
    return tuple(name for name, bit in bits.items() if change & bit)


@dataclass(frozen=True, slots=True)
class HubWords:
    """What a hub says of itself.

    Attributes
    ----------
    switching : str
        How it claims to switch the power of its ports: `"ganged"`, `"per port"`, `"none"`.
    protection : str
        How it watches over-current: `"ganged"`, `"per port"`, `"none"`.
    """

    ports: int
    switching: Literal["ganged", "per port", "none"]
    protection: Literal["ganged", "per port", "none"]


def hub_words(descriptor: bytes) -> HubWords:
    """Decode a hub descriptor, wHubCharacteristics above all.

    Raises
    ------
    ValueError
        If it is too short or of another type.

    References
    ----------
    USB 2.0 table 11-13; USB 3.0 table 10-3. Bits 0 and 1: 00 ganged, 01 individual, 1X none; bits
    3 and 4 the same for over-current.
    """
    if len(descriptor) < 7 or descriptor[1] not in (DT_HUB, DT_SUPER_HUB):
        raise ValueError(f"{descriptor[:8].hex()} is no hub descriptor")
    characteristics = int.from_bytes(descriptor[3:5], "little")
    return HubWords(
        ports=descriptor[2],
        switching=_mode(characteristics),
        protection=_mode(characteristics >> 3),
    )


def _mode(bits: int) -> Literal["ganged", "per port", "none"]:
    if bits & 2:
        return "none"
    return "per port" if bits & 1 else "ganged"


def speed_name(speed_mbps: float) -> Message:
    """Return the name of a signalling rate, `"high speed (480 Mb/s)"`."""
    called = (msg("low speed"), msg("full speed"), msg("high speed"), just("SuperSpeed"))
    names = dict(zip(SPEEDS_MBPS, called, strict=False))
    name = names.get(speed_mbps, just("SuperSpeed") if speed_mbps > SUPER_MBPS else None)
    speed = just(Amount(speed_mbps, "Mb/s"))
    return joined(" ", [name, in_brackets(speed)]) if name else speed
