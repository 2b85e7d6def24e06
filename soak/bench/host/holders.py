"""Which processes hold a device open, as far as this user may see it."""

import os
import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path

_SERVICE = re.compile(r"/system\.slice/(?:.*/)?([^/\s]+\.service)\s*$")
"""A service of the system's, in the name of its control group (systemd, from memory)."""


@dataclass(frozen=True, slots=True)
class Holder:
    """A process that holds a device.

    Attributes
    ----------
    service : str
        The system's service that it belongs to; empty if to none.
    is_soak : bool
        Whether it is a soak, or its guard.
    """

    process: int
    name: str
    service: str = ""
    is_soak: bool = False


def holders(nodes: Collection[str], proc: Path) -> tuple[Mapping[str, list[Holder]], int]:
    """Return who holds each of some devices, this process left out, and how many were closed to us.

    Parameters
    ----------
    nodes : collection of str
        Real paths, `/dev/ttyUSB0`.
    proc : Path
        The folder `/proc`.
    """
    held: dict[str, list[Holder]] = {}
    closed = 0
    for folder in proc.glob("[0-9]*"):
        if folder.name == str(os.getpid()):
            continue
        try:
            files = {str(file.readlink()) for file in (folder / "fd").iterdir()}
        except PermissionError:
            closed += 1
            continue
        except OSError:
            continue  # it ended meanwhile
        for node in files & set(nodes):
            held.setdefault(node, []).append(_holder(folder))
    return held, closed


def _holder(folder: Path) -> Holder:
    service = _SERVICE.search(_text(folder / "cgroup"))
    words = _text(folder / "cmdline").split("\0")
    return Holder(
        int(folder.name),
        _text(folder / "comm").strip(),
        service[1] if service else "",
        any(Path(word).name == "soak" or word.startswith("soak.") for word in words),
    )


def _text(file: Path) -> str:
    try:
        return file.read_text("utf-8", "replace")
    except OSError:
        return ""
