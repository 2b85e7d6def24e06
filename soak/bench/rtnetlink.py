"""The network ports of this computer, as the Linux kernel tells of them.

References
----------
rtnetlink(7) and include/uapi/linux/if_link.h (messages); Linux,
Documentation/networking/operstates.rst (what IFF_UP and carrier mean),
Documentation/ABI/testing/sysfs-class-net (`speed`, `duplex`).
"""

import socket
import struct
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from soak.bench.stick import mounts

LOOPBACK = "lo"

_ROUTE = 0
_LINK_GROUP = 1
_DONE = 3
_NEW = 16
_DELETED = 17
_GET = 18
_REQUEST = 0x1
_DUMP = 0x300
_UP = 0x1
_LOWER_UP = 0x10000
_ADDRESS = 1
_NAME = 3
_CARRIER = 33
_CARRIER_DOWNS = 48
_HEADER = struct.Struct("=IHHII")
_INFO = struct.Struct("=BxHiII")
_ATTRIBUTE = struct.Struct("=HH")
_BUFFER_BYTES = 1 << 20
_LONGEST_BYTES = 1 << 16
_ANSWERS_S = 1.0
"""The kernel answers at once; one that has not within so long will not, s. Our own choice."""


@dataclass(frozen=True, slots=True)
class Interface:
    """A network port as the kernel tells of it.

    Attributes
    ----------
    up : bool
        Whether it is switched on on this computer.
    carrier : bool
        Whether both ends have found each other.
    drops : int or None
        How often the carrier went since the port is there; None: an old kernel.
    address : str
        Its hardware address; empty: it has none.
    there : bool
        False where the kernel tells that it is deleted.
    """

    index: int
    name: str
    up: bool
    carrier: bool
    drops: int | None = None
    address: str = ""
    there: bool = True


def parse_messages(data: bytes) -> list[Interface]:
    """Return what rtnetlink messages say of ports; what is about something else is left out.

    A message cut short ends them: the kernel is then asked for all.
    """
    links = []
    at = 0
    while at + _HEADER.size <= len(data):
        length, kind, *_ = _HEADER.unpack_from(data, at)
        if not _HEADER.size <= length <= len(data) - at:
            break
        if kind in (_NEW, _DELETED) and length >= _HEADER.size + _INFO.size:
            family, _, index, flags, _ = _INFO.unpack_from(data, at + _HEADER.size)
            attributes = dict(_attributes(data[at + _HEADER.size + _INFO.size : at + length]))
            # A bridge tells of its ports by messages of its own family.
            if family == socket.AF_UNSPEC and _NAME in attributes:
                links.append(_interface(index, flags, attributes, there=kind == _NEW))
        at += _aligned(length)
    return links


def _attributes(data: bytes) -> Iterator[tuple[int, bytes]]:
    at = 0
    while at + _ATTRIBUTE.size <= len(data):
        length, kind = _ATTRIBUTE.unpack_from(data, at)
        if length < _ATTRIBUTE.size:
            return
        yield kind, data[at + _ATTRIBUTE.size : at + length]
        at += _aligned(length)


def _aligned(length: int) -> int:
    return (length + 3) & ~3


def _interface(index: int, flags: int, told: Mapping[int, bytes], *, there: bool) -> Interface:
    drops = told.get(_CARRIER_DOWNS)
    carrier = told.get(_CARRIER)
    return Interface(
        index=index,
        name=told[_NAME].rstrip(b"\0").decode("utf-8", "replace"),
        up=bool(flags & _UP),
        carrier=bool(flags & _LOWER_UP) if carrier is None else carrier != b"\0",
        drops=None if drops is None else int(struct.unpack("=I", drops)[0]),
        address=":".join(f"{byte:02x}" for byte in told.get(_ADDRESS, b"")),
        there=there,
    )


def interfaces() -> dict[str, Interface]:
    """Return the network ports of this computer by name; blocks for a moment.

    Raises
    ------
    OSError
        If this system has no rtnetlink, or it does not answer.
    """
    with _socket() as kernel:
        kernel.settimeout(_ANSWERS_S)
        kernel.bind((0, 0))
        length = _HEADER.size + _INFO.size
        asked = _HEADER.pack(length, _GET, _REQUEST | _DUMP, 1, 0) + _INFO.pack(0, 0, 0, 0, 0)
        kernel.send(asked)
        interfaces: dict[str, Interface] = {}
        while True:
            data = kernel.recv(_LONGEST_BYTES)
            interfaces |= {interface.name: interface for interface in parse_messages(data)}
            if len(data) < _HEADER.size or _HEADER.unpack_from(data)[1] == _DONE:
                return interfaces


def open_events() -> socket.socket:
    """Open a socket on which the kernel tells of network ports.

    Raises
    ------
    OSError
        If this system has no rtnetlink.
    """
    events = _socket()
    try:
        events.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, _BUFFER_BYTES)
        events.bind((0, _LINK_GROUP))
    except OSError:
        events.close()
        raise
    return events


def _socket() -> socket.socket:
    family = getattr(socket, "AF_NETLINK", None)
    if family is None:
        raise OSError("this system tells nothing of its network ports; only Linux does")
    return socket.socket(family, socket.SOCK_RAW, _ROUTE)


def mode_of(name: str) -> tuple[float | None, str]:
    """Return speed in Mb/s and duplex of a port with carrier, as the kernel's files say them.

    A driver that does not know says -1, or the file cannot be read (sysfs-class-net).
    """
    folder = mounts.SYSFS / "class" / "net" / name
    try:
        speed_mbps = float((folder / "speed").read_text())
        duplex = (folder / "duplex").read_text().strip()
    except (OSError, ValueError):
        return None, ""
    return (speed_mbps if speed_mbps > 0 else None), duplex
