"""A small disk of its own for a test: in memory, mounted for it alone."""

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path


def why_not() -> str:
    """Say why no disk can be mounted here; empty if one can."""
    if not sys.platform.startswith("linux"):
        return "mounts a file system of Linux"
    return "" if os.geteuid() == 0 else "needs root to mount a disk"


@contextmanager
def small_disk(folder: Path, size_mb: int) -> Iterator[Path]:
    """Mount a disk of that size; it is gone at the end."""
    place = folder / "disk"
    place.mkdir()
    how = f"size={size_mb}m"
    subprocess.run(["mount", "-t", "tmpfs", "-o", how, "none", str(place)], check=True)
    try:
        yield place
    finally:
        subprocess.run(["umount", "--lazy", str(place)], check=True)


def fill(disk: Path) -> None:
    """Write until there is no room left, to the last byte."""
    with (disk / "filler").open("ab", buffering=0) as file:
        for piece in (1_000_000, 4096, 1):
            try:
                while True:
                    file.write(bytes(piece))
            except OSError:
                continue


def read_only(disk: Path) -> None:
    """Let nothing be written any more."""
    subprocess.run(["mount", "-o", "remount,ro", str(disk)], check=True)
