"""A disk in memory that is as fast as asked: a loop device under a limit of the kernel's.

Needs root, a loop device, and control groups with a limit for block devices (blkio of version 1,
or io of version 2). `device-mapper` would do the same and is not needed.
"""

import contextlib
import os
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_V1 = Path("/sys/fs/cgroup/blkio")
_V2 = Path("/sys/fs/cgroup")


@dataclass(frozen=True)
class Disk:
    """A mounted disk in memory; `limit` says how fast it is from now on, for this process too."""

    folder: Path
    device: str
    group: Path

    def limit(self, bytes_per_s: int) -> None:
        """Let reads and writes go at most so fast; 0: as fast as they can."""
        status = Path(self.device).stat()
        number = f"{os.major(status.st_rdev)}:{os.minor(status.st_rdev)}"
        if (self.group / "io.max").exists():
            most = bytes_per_s or "max"
            (self.group / "io.max").write_text(f"{number} rbps={most} wbps={most}")
            return
        for way in ("read", "write"):
            (self.group / f"blkio.throttle.{way}_bps_device").write_text(f"{number} {bytes_per_s}")


@contextlib.contextmanager
def disk_in_memory(size_mb: int) -> Iterator[Disk]:
    """Make one below /dev/shm, mount it, and move this process into a group of its own."""
    beside = Path(f"/dev/shm/soak-bench-{os.getpid()}")
    root = _V1 if (_V1 / "blkio.throttle.read_bps_device").exists() else _V2
    group = root / f"soak-bench-{os.getpid()}"
    image, point, device = beside / "disk.img", beside / "disk", ""
    point.mkdir(parents=True)
    try:
        with image.open("wb") as file:
            file.truncate(size_mb << 20)
        run("mkfs.ext4", "-q", "-m", "0", str(image))
        device = run("losetup", "--find", "--show", str(image))
        run("mount", device, str(point))
        group.mkdir()
        (group / "cgroup.procs").write_text(str(os.getpid()))
        yield Disk(point, device, group)
    finally:
        (root / "cgroup.procs").write_text(str(os.getpid()))
        with contextlib.suppress(OSError):
            group.rmdir()
        for undo in (["umount", str(point)], ["losetup", "-d", device]):
            subprocess.run(undo, check=False, capture_output=True)
        image.unlink(missing_ok=True)
        point.rmdir()
        beside.rmdir()


def run(*words: str) -> str:
    """Run a command; return what it printed."""
    return subprocess.run(words, check=True, capture_output=True, text=True).stdout.strip()
