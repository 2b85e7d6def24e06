"""A stick that is a mounted folder, opened on the real clock; and a small image to mount."""

import os
import subprocess
from contextlib import asynccontextmanager, contextmanager

import pytest
import trio

from soak.bench.drivers.folder import Settings, open_folder
from soak.bench.off_loop import off_loop_for
from soak.bench.registry import Tools
from soak.clock import BootClock
from soak.errors import BenchFault
from soak.settings import checked


def run(main, *args):
    """Run on the real clock: the kernel does not leap."""
    clock = BootClock()
    return trio.run(main, clock, *args, clock=clock)


@asynccontextmanager
async def opened(clock, folder, **more):
    """Open a stick for the length of a block."""
    keys = {"driver": "folder", "folder": str(folder), "size": "2 MiB", **more}
    wired = checked(Settings, keys, "fixture.toml", Exception)
    tools = Tools(off_loop_for(clock), None, clock)
    stick = await open_folder.open("stick", wired, tools)
    try:
        yield stick
    finally:
        await stick.aclose()


def refusal(folder, **more) -> str:
    """Return the sentence with which a folder is refused."""

    async def main(clock):
        async with opened(clock, folder, **more):
            pass

    with pytest.raises(BenchFault) as caught:
        run(main)
    assert "\n" not in str(caught.value)
    return str(caught.value)


@contextmanager
def mounted(tmp_path, *, direct_io=True, size_mb=160, kind="ext4"):
    """Mount a small image over a loop device that reads its file past the cache."""
    if os.geteuid() != 0:
        pytest.skip("mounting an image needs root")
    image, point = tmp_path / "stick.img", tmp_path / "stick"
    with image.open("wb") as file:
        file.truncate(size_mb * 1_000_000 // 4096 * 4096)
    point.mkdir()
    device = ""
    try:
        make = [f"mkfs.{kind}", *(("-q", "-m", "0") if kind.startswith("ext") else ()), str(image)]
        subprocess.run(make, check=True, capture_output=True)
        flag = f"--direct-io={'on' if direct_io else 'off'}"
        asked = ["losetup", "--find", "--show", flag, str(image)]
        device = subprocess.run(asked, check=True, capture_output=True, text=True).stdout.strip()
        subprocess.run(["mount", device, str(point)], check=True, capture_output=True)
    except (OSError, subprocess.CalledProcessError) as fault:
        if device:
            subprocess.run(["losetup", "-d", device], check=False)
        pytest.skip(f"this machine mounts no image: {getattr(fault, 'stderr', fault)}")
    try:
        yield point, image, device
    finally:
        subprocess.run(["umount", "-l", str(point)], check=False, capture_output=True)
        subprocess.run(["losetup", "-d", device], check=False, capture_output=True)
