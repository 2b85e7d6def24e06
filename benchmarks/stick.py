"""Speed of the stick driver against dd on the same file system, in the same run, on one core.

    python benchmarks/stick.py [--folder DIR] [--size 512] [--rounds 3]

`dd` moves the same number of bytes past the page cache in the same blocks (`iflag=direct`,
`oflag=direct`). Rounds alternate, so that a slow moment of the machine hits both; the best round of
each is compared. Both are held to one core, the child process of the driver too.

`read and verify` is what the check `transfer` does: read, then say of every sector what came of it.
`write` makes the data and flushes every chunk to the medium, as `dd flushed` (dsync) does.
"""

import argparse
import os
import subprocess
import time
from collections.abc import Awaitable
from pathlib import Path
from tempfile import TemporaryDirectory

import trio

from soak.bench.drivers.folder import Settings, open_folder
from soak.bench.off_loop import off_loop_for
from soak.bench.registry import Tools
from soak.clock import BootClock
from soak.measure.pattern import Pattern
from soak.roles import Stick

CHUNK_BYTES = 4 << 20
PATTERN = Pattern(bytes(16))


def dd(*operands: str) -> float:
    """Run dd; return how long it took, s."""
    begin_s = time.perf_counter()
    subprocess.run(["dd", f"bs={CHUNK_BYTES}", "status=none", *operands], check=True)
    return time.perf_counter() - begin_s


async def write_all(stick: Stick, chunks: int, number: int) -> None:
    for chunk in range(chunks):
        offset = chunk * CHUNK_BYTES
        came = await stick.write_at(offset, PATTERN.make(number, offset, CHUNK_BYTES))
        assert came.errno is None, os.strerror(came.errno)


async def read_all(stick: Stick, chunks: int, number: int) -> None:
    """Read and verify; also make sure that the buffers are really filled anew."""
    for chunk in range(chunks):
        offset = chunk * CHUNK_BYTES
        came = await stick.read_at(offset, CHUNK_BYTES)
        assert came.data is not None, came
        counts = PATTERN.examine(came.data, number, offset, CHUNK_BYTES)
        assert counts.right == CHUNK_BYTES // 512, counts
        assert came.path == "direct", came.path


async def timed(work: Awaitable[None]) -> float:
    begin_s = time.perf_counter()
    await work
    return time.perf_counter() - begin_s


def most_memory_mb(process: str) -> float:
    """Return the most memory a process has held, MB."""
    status = Path(f"/proc/{process}/status").read_text()
    return int(status.split("VmHWM:")[1].split()[0]) * 1024 / 1e6


def memory_of_both() -> str:
    """Return what this process and the driver's child have held at most."""
    threads = Path("/proc/self/task").iterdir()
    children = [c for task in threads for c in (task / "children").read_text().split()]
    child_mb = max(map(most_memory_mb, children), default=0.0)
    return f"most memory: soak {most_memory_mb('self'):.0f} MB, its child {child_mb:.0f} MB"


async def compare(folder: Path, chunks: int, rounds: int, clock: BootClock) -> dict[str, float]:
    """Return the best time of each way in s."""
    wired = Settings(driver="folder", folder=str(folder), size=chunks * CHUNK_BYTES)
    stick = await open_folder.open("stick", wired, Tools(off_loop_for(clock), None, clock))
    best: dict[str, float] = {}
    plain = folder / "dd.bin"
    try:
        for number in range(1, rounds + 1):
            zeros = ("if=/dev/zero", f"of={plain}", f"count={chunks}")
            took = {
                "dd write": dd(*zeros, "oflag=direct"),
                "dd flushed": dd(*zeros, "oflag=direct,dsync"),
                "write": await timed(write_all(stick, chunks, number)),
                "dd read": dd(f"if={plain}", "of=/dev/null", f"count={chunks}", "iflag=direct"),
                "read and verify": await timed(read_all(stick, chunks, number)),
            }
            for way, took_s in took.items():
                best[way] = min(took_s, best.get(way, took_s))
        print(memory_of_both())
    finally:
        await stick.aclose()
        plain.unlink(missing_ok=True)
    return best


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--folder", default=None, help="on the file system to try; default: TMPDIR")
    asked.add_argument("--size", type=int, default=512, help="MiB to move each way")
    asked.add_argument("--rounds", type=int, default=3)
    given = asked.parse_args()
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    chunks = max(1, given.size * (1 << 20) // CHUNK_BYTES)
    clock = BootClock()
    with TemporaryDirectory(dir=given.folder) as folder:
        best = trio.run(compare, Path(folder), chunks, given.rounds, clock, clock=clock)
    size_bytes = chunks * CHUNK_BYTES
    print(f"{size_bytes / 1e6:.0f} MB each way, best of {given.rounds}, one core")
    print(f"{'way':<18}{'MB/s':>8}{'share of dd':>14}")
    for way, against in (
        ("dd read", "dd read"),
        ("read and verify", "dd read"),
        ("dd write", "dd write"),
        ("dd flushed", "dd write"),
        ("write", "dd write"),
    ):
        share = best[against] / best[way]
        print(f"{way:<18}{size_bytes / 1e6 / best[way]:>8.0f}{share:>14.2f}")


if __name__ == "__main__":
    main()
