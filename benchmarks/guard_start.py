"""Start the guard again and again: how soon is it there, what does it cost, how often does it come?

    .venv/bin/python benchmarks/guard_start.py [STARTS] [BUSY] [SHARE]

A real guard process on a relay board (a pseudo terminal) and a thermometer (a file), through the
same door as a soak. BUSY processes count for ever meanwhile; until its socket is there the guard is
let run for SHARE of the time only (stopped and continued), as on a host that has no time for it.
Told of each: how long the soak program waited until all was open, and the guard's own processor
time and memory then (`/proc`).
"""

import contextlib
import os
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "support"))
import trio
from guarded_bench import GuardedBench

from soak.bench.fixture import read_fixture
from soak.clock import BootClock
from soak.desk.soaking.guarding import Guarded, opened
from soak.errors import SoakError
from soak.run.guard.step import Guarding

TURN_S = 2.0


def main(starts: int, busy: int, share: float) -> int:
    loops = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range(busy)]
    try:
        told = [one for _ in range(starts) if (one := _started(share))]
    finally:
        for loop in loops:
            loop.kill()
            loop.wait()
    beside = f"{busy} busy processes, {share:.1%} of the time, {os.cpu_count()} cores"
    print(f"{len(told)} of {starts} starts: {beside}")
    for name, at, unit in (("waited", 0, "s"), ("processor", 1, "s"), ("memory", 2, "MB")):
        values = [one[at] for one in told]
        if values:
            print(
                f"{name:10} median {statistics.median(values):.2f}, worst {max(values):.2f} {unit}"
            )
    return 0 if len(told) == starts else 1


def _started(share: float) -> tuple[float, float, float] | None:
    """Return wait in s, processor time in s, memory in MB; None where it could not be started."""
    with tempfile.TemporaryDirectory() as folder, GuardedBench(Path(folder)) as bench:
        told, over = None, threading.Event()
        slow = threading.Thread(target=_slowed, args=(bench, share, over))
        slow.start()
        try:
            told = trio.run(_one, bench, clock=BootClock())
        except SoakError as fault:
            print(f"not started: {fault}")
        finally:
            over.set()
            slow.join()
        with contextlib.suppress(ChildProcessError, ValueError, FileNotFoundError):
            os.waitpid(bench.guard_pid(), 0)  # it goes when it has nothing left to guard
        return told


async def _one(bench: GuardedBench) -> tuple[float, float, float]:
    fixture = read_fixture(bench.folder / "fixtures" / "f1.toml")
    guarding = {"probe.heatsink": Guarding("probe.heatsink", 90.0, "heatsink")}
    guarded = Guarded("S-1", bench.folder / "reports", bench.folder, guarding)
    at_s = time.monotonic()
    async with opened(fixture, {}, guarded, _nobody, BootClock()):
        waited_s = time.monotonic() - at_s
        pid = bench.guard_pid()
        return waited_s, *_of_process(pid)


def _slowed(bench: GuardedBench, share: float, over: threading.Event) -> None:
    """Stop and continue what is started here, until it listens."""
    own = Path(f"/proc/{os.getpid()}/task/{os.getpid()}/children")
    socket = bench.guard_folder() / "socket"
    while share < 1 and not over.wait(share * TURN_S) and not socket.exists():
        pids = [int(word) for word in own.read_text().split()]
        guards = [pid for pid in pids if b"guard_process" in _command(pid)]
        for pid in guards:
            os.kill(pid, signal.SIGSTOP)
        over.wait((1 - share) * TURN_S)
        for pid in guards:
            os.kill(pid, signal.SIGCONT)


def _command(pid: int) -> bytes:
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes()
    except OSError:
        return b""


def _of_process(pid: int) -> tuple[float, float]:
    """Return processor time in s and memory in MB of a process."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    used_s = (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    status = Path(f"/proc/{pid}/status").read_text()
    kb = next(line.split()[1] for line in status.splitlines() if line.startswith("VmRSS"))
    return used_s, int(kb) / 1024


async def _nobody(question: object) -> None:
    await trio.sleep_forever()


if __name__ == "__main__":
    words = [*sys.argv[1:], *("7", "0", "1")[len(sys.argv) - 1 :]]
    sys.exit(main(int(words[0]), int(words[1]), float(words[2])))
