"""Speed of the stick check beside dd, cmp and fio: same file system, same run, one core.

    python benchmarks/stick.py [--folder DIR] [--size 512] [--rounds 5]
    python benchmarks/stick.py --curve            # needs root: a disk in memory, as fast as asked

`dd` moves the same number of bytes past the page cache in the same blocks (`iflag=direct`,
`oflag=direct`). `cmp` compares the file with a copy, both dropped from the cache first. `fio` reads
past the cache and verifies its own checksums. Ways alternate in each round, so that a slow moment
of the machine hits all, and every other round goes through them backwards: under a kernel's limit
the first of two readers in a row is let through a tenth quicker than the second, whoever it is.
Medians are compared. All are held to one core, the driver's child too.

`read and verify` is what the check `transfer` does: read, then say of every sector what came of it.
`write` makes the data and flushes every chunk to the medium, as `dd flushed` (dsync) does.
"""

import argparse
import json
import os
import shutil
import statistics
import subprocess
import sys
import time
from collections.abc import Awaitable, Callable, Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

import trio
from throttled import disk_in_memory

from soak.bench.drivers.folder import Settings, open_folder
from soak.bench.off_loop import off_loop_for
from soak.bench.registry import Tools
from soak.checks.transfer.crossing import MakesAhead
from soak.clock import BootClock
from soak.measure.stick.pattern import Pattern
from soak.roles import Stick

CHUNK_BYTES = 4 << 20
PATTERN = Pattern(bytes(16))
SETTLE_S = 0.3
CURVE_MB_PER_S = (25, 50, 100, 200, 400, 700, 1000, 1500, 2000, 0)


def dd(*operands: str) -> float:
    """Run dd; return how long it took, s."""
    begin_s = time.perf_counter()
    subprocess.run(["dd", f"bs={CHUNK_BYTES}", "status=none", *operands], check=True)
    return time.perf_counter() - begin_s


async def write_all(stick: Stick, chunks: int, number: int) -> None:
    """Write as the check does: the next chunk is made while the last one is on its way."""
    ahead = MakesAhead(PATTERN)
    for chunk in range(chunks):
        came = await ahead.write(stick, number, chunk * CHUNK_BYTES, CHUNK_BYTES)
        assert came.errno is None, os.strerror(came.errno)


async def read_all(stick: Stick, chunks: int, number: int) -> None:
    """Read and verify; also make sure that the buffers are really filled anew."""
    for chunk in range(chunks):
        offset = chunk * CHUNK_BYTES
        came = await stick.read_at(offset, CHUNK_BYTES)
        assert came.data is not None, came
        counts = PATTERN.examine(came.data, number, offset, CHUNK_BYTES)
        assert counts.right == CHUNK_BYTES // 512, counts


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


def cmp(one: Path, other: Path) -> float:
    """Compare two files that the cache does not hold; return how long it took, s."""
    for path in (one, other):
        with path.open("rb") as file:
            os.fdatasync(file.fileno())
            os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
    begin_s = time.perf_counter()
    subprocess.run(["cmp", one, other], check=True)
    return time.perf_counter() - begin_s


def fio(file: Path, size_bytes: int) -> float:
    """Let fio read its own file past the cache and verify it; return how long it took, s."""
    asked = ["fio", "--name=v", f"--filename={file}", f"--size={size_bytes}", "--direct=1"]
    asked += [f"--bs={CHUNK_BYTES}", "--ioengine=psync", "--verify=crc32c", "--thread"]
    asked += ["--output-format=json", f"--aux-path={file.parent}"]  # where it leaves its state file
    if not file.exists():
        subprocess.run([*asked, "--rw=write", "--do_verify=0"], check=True, capture_output=True)
    done = subprocess.run([*asked, "--rw=read"], check=True, capture_output=True, text=True)
    found = json.loads(done.stdout)["jobs"][0]
    assert found["error"] == 0, found
    return float(found["job_runtime"]) / 1e3


async def compare(
    folder: Path, chunks: int, rounds: int, others: bool, clock: BootClock
) -> dict[str, float]:
    """Return the median time of each way in s."""
    size_bytes = chunks * CHUNK_BYTES
    wired = Settings(driver="folder", folder=str(folder), size=size_bytes)
    stick = await open_folder.open("stick", wired, Tools(off_loop_for(clock), None, clock))
    took: dict[str, list[float]] = {}
    plain, copy, fios = folder / "dd.bin", folder / "copy.bin", folder / "fio.bin"
    zeros = ("if=/dev/zero", f"of={plain}", f"count={chunks}")

    reads = (f"if={plain}", "of=/dev/null", f"count={chunks}", "iflag=direct")

    async def plain_dd(*operands: str) -> float:
        return dd(*operands)

    async def compared() -> float:
        if not copy.exists():
            shutil.copyfile(plain, copy)
        return cmp(plain, copy)

    async def verified_by_fio() -> float:
        return fio(fios, size_bytes)

    def written(number: int) -> dict[str, Callable[[], Awaitable[float]]]:
        return {
            "dd write": lambda: plain_dd(*zeros, "oflag=direct"),
            "write": lambda: timed(write_all(stick, chunks, number)),
            "dd flushed": lambda: plain_dd(*zeros, "oflag=direct,dsync"),
        }

    def read_back(number: int) -> dict[str, Callable[[], Awaitable[float]]]:
        ways: dict[str, Callable[[], Awaitable[float]]] = {
            "dd read": lambda: plain_dd(*reads),
            "read and verify": lambda: timed(read_all(stick, chunks, number)),
        }
        if others:
            ways["cmp with a copy"] = compared
            if shutil.which("fio"):
                ways["fio read, verify"] = verified_by_fio
        return ways

    try:
        for number in range(1, rounds + 1):
            for ways in (written(number), read_back(number)):
                for way, work in list(ways.items())[:: 1 if number % 2 else -1]:
                    await trio.sleep(SETTLE_S)  # what the last way left must not help or hurt
                    took.setdefault(way, []).append(await work())
        print(memory_of_both(), file=sys.stderr)
    finally:
        await stick.aclose()
        for file in (plain, copy, fios):
            file.unlink(missing_ok=True)
    return {way: statistics.median(all_s) for way, all_s in took.items()}


AGAINST = {
    "dd read": "dd read",
    "read and verify": "dd read",
    "cmp with a copy": "dd read",
    "fio read, verify": "dd read",
    "dd write": "dd write",
    "write": "dd write",
    "dd flushed": "dd write",
}


def show(size_bytes: int, found: dict[str, float]) -> None:
    """Print a table of speeds and shares of dd's."""
    print(f"{'way':<18}{'MB/s':>8}{'share of dd':>14}")
    for way, against in AGAINST.items():
        if way in found:
            share = found[against] / found[way]
            print(f"{way:<18}{size_bytes / 1e6 / found[way]:>8.0f}{share:>14.2f}")


def curve(speeds: Sequence[int], rounds: int, clock: BootClock) -> None:
    """Print the shares on a disk in memory of several speeds."""
    print(f"{'disk MB/s':>10}{'dd read':>9}{'verify':>8}{'share':>7}{'dd write':>10}", end="")
    print(f"{'write':>7}{'share':>7}")
    with disk_in_memory(2000) as disk:
        for mb_per_s in speeds:
            disk.limit(mb_per_s * 1_000_000)
            chunks = max(8, min(128, (mb_per_s or 2000) // 5))  # about as long at every speed
            run = (compare, disk.folder, chunks, rounds, False, clock)
            found = trio.run(*run, clock=clock)
            size_mb = chunks * CHUNK_BYTES / 1e6
            name = f"{mb_per_s}" if mb_per_s else "no limit"
            speed = {way: size_mb / took_s for way, took_s in found.items()}
            read, write = speed["read and verify"], speed["write"]
            print(
                f"{name:>10}{speed['dd read']:>9.0f}{read:>8.0f}{read / speed['dd read']:>7.2f}"
                f"{speed['dd write']:>10.0f}{write:>7.0f}{write / speed['dd write']:>7.2f}"
            )


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--folder", default=None, help="on the file system to try; default: TMPDIR")
    asked.add_argument("--size", type=int, default=512, help="MiB to move each way")
    asked.add_argument("--rounds", type=int, default=5)
    asked.add_argument("--curve", action="store_true", help="on a disk in memory of many speeds")
    given = asked.parse_args()
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})
    clock = BootClock()
    if given.curve:
        curve(CURVE_MB_PER_S, given.rounds, clock)
        return
    chunks = max(1, given.size * (1 << 20) // CHUNK_BYTES)
    with TemporaryDirectory(dir=given.folder) as folder:
        run = (compare, Path(folder), chunks, given.rounds, True, clock)
        found = trio.run(*run, clock=clock)
    size_bytes = chunks * CHUNK_BYTES
    print(f"{size_bytes / 1e6:.0f} MB each way, median of {given.rounds}, one core")
    show(size_bytes, found)


if __name__ == "__main__":
    main()
