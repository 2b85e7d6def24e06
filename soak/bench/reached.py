"""What of this computer an instrument is reached by, as its entry in a fixture names it."""

from collections.abc import Iterator, Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import NamedTuple

from soak.bench.capture.video_stream import kind_of_source
from soak.bench.serial.port import SerialSettings
from soak.frozen.wiring import Role, Wired
from soak.settings import Settings


class Way(StrEnum):
    """By what an instrument is reached; its word is the kernel's of such devices where it has one.

    `/sys/class/tty`, `/sys/class/video4linux` and so on.
    """

    SERIAL = "tty"
    VIDEO = "video4linux"
    DISK = "block"
    USB = "usb"
    FOLDER = "folder"
    NETWORK = "net"
    FILE = "file"


class Reached(NamedTuple):
    """A key of an entry in a fixture that names something of this computer."""

    way: Way
    key: str
    name: str


WAYS: Mapping[tuple[Role, str], Way] = MappingProxyType(
    {
        ("capture", "source"): Way.VIDEO,
        ("stick", "device"): Way.DISK,
        ("stick", "folder"): Way.FOLDER,
        ("link", "device"): Way.USB,
        ("switch", "hub"): Way.USB,
        ("switch", "companion"): Way.USB,
        ("network", "interface"): Way.NETWORK,
        ("probe", "file"): Way.FILE,
    }
)
"""The keys of drivers that are not reached over a serial port."""


def reached(wired: Wired) -> Iterator[Reached]:
    """Yield what an instrument is reached by; nothing where a person works it."""
    settings: Settings = wired
    if isinstance(settings, SerialSettings):
        yield Reached(Way.SERIAL, "port", settings.port)
    for (role, key), way in WAYS.items():
        name = getattr(wired, key, "") if role == wired.role else ""
        is_no_device = way is Way.VIDEO and name and kind_of_source(name) != "device"
        if isinstance(name, str) and name and not is_no_device:
            yield Reached(way, key, name)
