"""Video devices by a name that stays: finding a card again under whatever number it has now."""

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

BY_ID = Path("/dev/v4l/by-id")
SYSFS = Path("/sys/class/video4linux")

_NODE = re.compile(r"video(\d+)$")


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
    found = []
    for entry in sorted(sysfs.glob("video*"), key=_number):
        if (_line(entry / "index") or "0") == "0":  # 1 and up: metadata nodes of the same card
            node = f"/dev/{entry.name}"
            found.append(VideoDevice(node, stable.get(node, node), _line(entry / "name")))
    return found


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
    interface = sysfs / Path(node).name / "device"
    if not node or not interface.exists():
        return ""
    for folder in (interface.resolve(), *interface.resolve().parents):
        if (folder / "idVendor").exists():
            ids = f"{_line(folder / 'idVendor')}:{_line(folder / 'idProduct')}"
            return f"{ids}/{_line(folder / 'serial') or folder.name}"
    return ""


def node_of_card(key: str, sysfs: Path = SYSFS) -> str:
    """Return the node of the card with that key, under whatever number; '' if it is not there."""
    nodes = (device.node for device in video_devices(sysfs=sysfs))
    return next((node for node in nodes if card_key(node, sysfs) == key), "")


def opencv_variants_sentence() -> str:
    """Return one sentence if two variants of OpenCV are installed over each other, else ''.

    They share one folder, so the one installed last wins and removing either breaks both.
    """
    installed = [
        name for name in ("opencv-python", "opencv-python-headless") if _is_installed(name)
    ]
    if len(installed) < 2:
        return ""
    return (
        f"{installed[0]} and {installed[1]} are both installed over each other: "
        "remove both, then install opencv-python-headless alone"
    )


def _is_installed(name: str) -> bool:
    try:
        metadata.distribution(name)
    except metadata.PackageNotFoundError:
        return False
    return True


def _stable_names(by_id: Path) -> Mapping[str, str]:
    if not by_id.is_dir():
        return {}
    return {os.path.realpath(link): str(link) for link in sorted(by_id.iterdir(), reverse=True)}


def _number(entry: Path) -> int:
    found = _NODE.search(entry.name)
    return int(found[1]) if found else -1


def _line(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8", errors="replace").strip()
    except OSError:
        return ""
