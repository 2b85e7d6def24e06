"""Ways in which a file kept as evidence is no longer what was recorded."""

import os
import shutil
from collections.abc import Callable, Mapping
from pathlib import Path

Damage = Callable[[Path], None]
HUGE_BYTES = 3 << 30


def changed(file: Path) -> None:
    """Change one bit in its middle."""
    data = bytearray(file.read_bytes())
    data[len(data) // 2] ^= 1
    file.write_bytes(data)


def swapped(file: Path) -> None:
    """Put another picture of the same soak in its place."""
    own = file.read_bytes()
    other = next(o for o in sorted(file.parent.iterdir()) if o.read_bytes() != own)
    shutil.copyfile(other, file)


def linked(file: Path) -> None:
    """Put the very file elsewhere, and a link to it in its place."""
    elsewhere = file.parent.parent.parent / f"elsewhere-{file.name}"
    file.replace(elsewhere)
    file.symlink_to(elsewhere)


def a_folder(file: Path) -> None:
    """Put a folder of its name in its place."""
    file.unlink()
    file.mkdir()


def a_pipe(file: Path) -> None:
    """Put a pipe that never ends in its place."""
    file.unlink()
    os.mkfifo(file)


def empty(file: Path) -> None:
    """Leave nothing of it but its name."""
    file.write_bytes(b"")


def huge(file: Path) -> None:
    """Let it seem to be larger than any memory; on the disk it takes nothing."""
    os.truncate(file, HUGE_BYTES)


def added(file: Path) -> None:
    """Put a file beside it that nobody recorded."""
    shutil.copyfile(file, file.with_name("zz-added.jpg"))


DAMAGES: Mapping[str, tuple[Damage, str]] = {
    "changed": (changed, "{name}: is not the file that was recorded"),
    "swapped": (swapped, "{name}: is not the file that was recorded"),
    "gone": (Path.unlink, "{name}: was recorded and is gone"),
    "a link to the very file": (linked, "{name}: is a link"),
    "a folder": (a_folder, "{name}: is a folder"),
    "a pipe": (a_pipe, "{name}: is a device or a pipe"),
    "empty": (empty, "{name}: is empty"),
    "huge": (huge, "{name}: is larger than 64 MiB"),
    "one that nobody named": (added, "zz-added.jpg: lies among what was recorded"),
}
"""What is done, and how the sentence about it begins."""
