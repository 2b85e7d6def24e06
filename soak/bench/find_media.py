"""Find cameras and sticks: what is plugged in here, with the lines to paste into a fixture."""

import json
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import cv2

from soak.bench.capture.video_device import VideoDevice, video_devices
from soak.bench.capture.video_stream import Asked, CannotOpen, Frame, Stream, open_stream
from soak.bench.stick.mounts import Mount, table
from soak.errors import told_of
from soak.pasting import pasted, remarked
from soak.words import NOTHING_SAID, Message, msg

_LOOKS = 10
"""The first pictures after opening are often black or torn: the snapshot is the last of these."""
_SYSTEM_MOUNTS = ("/", "/boot", "/boot/efi", "/home", "/usr", "/var")


@dataclass(frozen=True, slots=True)
class FoundCamera:
    """A camera or capture card.

    Attributes
    ----------
    device : VideoDevice
        Where it is and what it calls itself.
    snapshot : bytes
        A JPEG picture of what it sees; empty if none came.
    trouble : Message
        In one sentence why there is no snapshot; empty if there is one.
    toml : str
        Lines for a fixture file.
    """

    device: VideoDevice
    snapshot: bytes
    trouble: Message
    toml: Message


@dataclass(frozen=True, slots=True)
class FoundStick:
    """A mounted removable medium.

    Attributes
    ----------
    folder : str
        Where it is mounted.
    name : str
        Maker and model as the medium says; empty where unknown.
    toml : str
        Lines for a fixture file.
    """

    folder: str
    name: str
    toml: Message


def find_cameras(snapshots: bool = True) -> Sequence[FoundCamera]:
    """Find cameras and take a snapshot of each. Blocks for some seconds: call it off the loop."""
    return tuple(_camera(device, snapshots) for device in video_devices())


def _camera(device: VideoDevice, snapshots: bool) -> FoundCamera:
    picture = b""
    trouble = NOTHING_SAID
    size = None
    if snapshots:
        try:
            stream = open_stream(Asked(device.stable))
        except CannotOpen as fault:
            trouble = told_of(fault)
        else:
            size = stream.size
            picture = snapshot(stream)
            stream.close()
            if not picture:
                trouble = msg("{node} opens but delivers no picture", node=device.node)
    toml = pasted(
        remarked("[capture]", device.name) if device.name else "[capture]",
        'driver = "opencv"',
        f"source = {json.dumps(device.stable)}",
        "" if size is None else f"size = [{size[0]}, {size[1]}]",
    )
    return FoundCamera(device, picture, trouble, toml)


def snapshot(stream: Stream) -> bytes:
    """Return a JPEG of what the stream shows now; empty if it shows nothing."""
    last: Frame | None = None
    for _ in range(_LOOKS):
        frame = stream.read()
        if frame is None:
            break
        last = frame
    if last is None:
        return b""
    if last.form == "mjpeg":
        return last.data.tobytes()
    image = last.data
    if last.form == "yuyv":
        image = cv2.cvtColor(image, cv2.COLOR_YUV2BGR_YUYV)  # type: ignore[assignment]  # stubs: any number
    written, packet = cv2.imencode(".jpg", image)
    return packet.tobytes() if written else b""


def find_sticks(
    mounts: Sequence[Mount] | None = None, sysfs: Path = Path("/sys/class/block")
) -> Sequence[FoundStick]:
    """Find mounted removable media; none on a system without `/sys`."""
    sticks = []
    for mount in table() if mounts is None else mounts:
        disk = _disk_of(mount.source, sysfs)
        if disk is None or mount.point in _SYSTEM_MOUNTS:
            continue
        if Path(mount.point).is_dir():  # else pulled or unmounted this moment
            sticks.append(_stick(mount.point, disk))
    return tuple(sticks)


def _disk_of(device: str, sysfs: Path) -> Path | None:
    """Return the sysfs folder of the whole disk, if the device is on a removable or USB disk."""
    if not device.startswith("/dev/"):
        return None
    entry = sysfs / Path(os.path.realpath(device)).name
    if not entry.exists():
        return None
    whole = entry.resolve()
    if (whole / "partition").exists():
        whole = whole.parent
    removable = _text(whole / "removable") == "1"
    return whole if removable or "/usb" in str(whole) else None


def _stick(folder: str, disk: Path) -> FoundStick:
    name = f"{_text(disk / 'device/vendor')} {_text(disk / 'device/model')}".strip()
    ways = msg("{ways}: how data crosses the unit", ways="through, played, carried, stood_in")
    toml = pasted(
        remarked("[stick]", name) if name else "[stick]",
        'driver = "folder"',
        f"folder = {json.dumps(folder)}",
        remarked('path = "bench_only"', ways),
    )
    return FoundStick(folder, name, toml)


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        return ""
