"""Video devices by a name that stays: finding a card again under whatever number it has now."""

import os
import re
import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from soak.bench.usb.sysfs import device_above

BY_ID = Path("/dev/v4l/by-id")
SYSFS = Path("/sys/class/video4linux")

_NODE = re.compile(r"video(\d+)$")

_G_INPUT = 0x80045626
_ENUMINPUT = 0xC050561A
_INPUT_BYTES = 80
_STATUS_AT = 56
_NO_SIGNAL = 0x1 | 0x2 | 0x100 | 0x10000
"""No power, no signal, no horizontal lock, no sync."""

Asking = Callable[[str, int, bytearray], object]


@dataclass(frozen=True, slots=True)
class VideoDevice:
    """One node that delivers pictures.

    Attributes
    ----------
    node : str
        Where it is now, `/dev/video2`.
    stable : str
        Its name that stays, `/dev/v4l/by-id/...`; `node` where the system gives none.
    name : str
        What the card calls itself; empty where unknown.
    """

    node: str
    stable: str
    name: str


def video_devices(by_id: Path = BY_ID, sysfs: Path = SYSFS) -> list[VideoDevice]:
    """Return the video nodes of this host; a card's second, metadata node is left out."""
    stable = _stable_names(by_id)
    devices = []
    for entry in sorted(sysfs.glob("video*"), key=_number):
        if (_line(entry / "index") or "0") == "0":  # 1 and up: metadata nodes of the same card
            node = f"/dev/{entry.name}"
            devices.append(VideoDevice(node, stable.get(node, node), _line(entry / "name")))
    return devices


def stable_path(source: str, by_id: Path = BY_ID) -> str:
    """Return the name that stays for a node, `source` itself where there is none."""
    return _stable_names(by_id).get(os.path.realpath(source), source)


def node_of(source: str) -> str:
    """Return the node a device's path or number stands for now; an empty text if it is gone."""
    path = Path(f"/dev/video{source}") if source.isdigit() else Path(source)
    return os.path.realpath(path) if path.exists() else ""


def device_name(node: str, sysfs: Path = SYSFS) -> str:
    """Return what the card at `node` calls itself; empty where unknown."""
    return _line(sysfs / Path(node).name / "name")


def card_key(node: str, sysfs: Path = SYSFS) -> str:
    """Return what tells a USB card from all others: ids and serial number, or the port it is on.

    An empty text where the node is no USB device's.
    """
    folder = device_above(sysfs / Path(node).name) if node else None
    if folder is None:
        return ""
    ids = f"{_line(folder / 'idVendor')}:{_line(folder / 'idProduct')}"
    return f"{ids}/{_line(folder / 'serial') or folder.name}"


def node_of_card(key: str, sysfs: Path = SYSFS) -> str:
    """Return the node of the card with that key, under whatever number; '' if it is not there."""
    nodes = (device.node for device in video_devices(sysfs=sysfs))
    return next((node for node in nodes if card_key(node, sysfs) == key), "")


def no_signal(node: str, ask: Asking | None = None) -> bool:
    """Tell whether the driver itself says that its input has no signal.

    A card may keep delivering noise, or its last picture, at full rate. Many USB cards always
    report a signal, so False says nothing.

    Parameters
    ----------
    ask : callable or None
        Fills a buffer for (node, request); None: the kernel's `ioctl`.

    References
    ----------
    Linux `include/uapi/linux/videodev2.h`: `VIDIOC_G_INPUT`, `VIDIOC_ENUMINPUT`, `struct
    v4l2_input`, `V4L2_IN_ST_*`.
    """
    asked = ask or _ioctl
    try:
        number = bytearray(4)
        asked(node, _G_INPUT, number)
        entry = bytearray(number + bytes(_INPUT_BYTES - 4))
        asked(node, _ENUMINPUT, entry)
    except OSError:
        return False
    return bool(int.from_bytes(entry[_STATUS_AT : _STATUS_AT + 4], sys.byteorder) & _NO_SIGNAL)


def _ioctl(node: str, request: int, buffer: bytearray) -> None:
    if sys.platform != "linux":
        raise OSError("only Linux tells")
    import fcntl

    handle = os.open(node, os.O_RDWR | os.O_NONBLOCK)
    try:
        fcntl.ioctl(handle, request, buffer, True)
    finally:
        os.close(handle)


def _stable_names(by_id: Path) -> Mapping[str, str]:
    if not by_id.is_dir():
        return {}
    return {os.path.realpath(link): str(link) for link in sorted(by_id.iterdir(), reverse=True)}


def _number(entry: Path) -> int:
    match = _NODE.search(entry.name)
    return int(match[1]) if match else -1


def _line(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        return ""
