"""The guard's process: `python -m soak.run.guard.process FOLDER`, started by the first runner.

It has a session of its own, so that neither Ctrl-C nor a closed terminal reaches it, and ends by
itself when the last runner has gone and every unit is off. `soak` is not a safety device.
"""

import fcntl
import os
import signal
import subprocess
import sys
import time
from contextlib import suppress
from pathlib import Path

import trio

from soak.bench.off_loop import off_loop_for
from soak.bench.registry import Tools
from soak.clock import BootClock, boot_time_s
from soak.roles import Question
from soak.run.guard.place import SOCKET
from soak.run.guard.server import Server

_LOCK = "guard.lock"
_LAST_WORDS = "last-words.txt"
_LOCK_WITHIN_S = 3.0
"""A guard waits so long for the lock of one that is ending, s. Our own choice."""


def start(folder: Path) -> "subprocess.Popen[bytes]":
    """Start a guard for a bench; it ends at once if there is one already."""
    with (folder / _LAST_WORDS).open("wb") as words:
        return subprocess.Popen(
            [sys.executable, "-P", "-m", "soak.run.guard.process", str(folder)],
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=words,
            start_new_session=True,
        )


def kill_hung(folder: Path, wait_s: float = 2.0) -> bool:
    """Kill the guard that holds the lock of a bench; return whether the lock is free now.

    The number in the lock file is its holder's for as long as the lock is held, so no other
    process can be hit.
    """
    deadline_s = time.monotonic() + wait_s
    while True:
        handle = os.open(folder / _LOCK, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            if _locked(handle):
                return True
            number = os.read(handle, 20)
            if number.isdigit():
                with suppress(ProcessLookupError):
                    os.kill(int(number), signal.SIGKILL)
        finally:
            os.close(handle)
        if time.monotonic() > deadline_s:
            return False
        time.sleep(0.02)


def holder(folder: Path) -> int:
    """Return the number of the guard that holds the lock of a bench; 0 if none does."""
    with suppress(OSError, ValueError):
        handle = os.open(folder / _LOCK, os.O_RDWR)
        try:
            return 0 if _locked(handle) else int(os.read(handle, 20))
        finally:
            os.close(handle)
    return 0


def last_words(folder: Path) -> str:
    """Return the last line the guard wrote before it died; empty if it said nothing."""
    try:
        lines = (folder / _LAST_WORDS).read_text("utf-8", "replace").splitlines()
    except OSError:
        return ""
    said = (line.strip(" |+-") for line in reversed(lines))  # Python frames a group of faults
    return next((line for line in said if line), "")


def main(folder: Path) -> int:
    """Guard the units of one bench."""
    handle = os.open(folder / _LOCK, os.O_RDWR | os.O_CREAT, 0o600)
    deadline_s = time.monotonic() + _LOCK_WITHIN_S
    while not _locked(handle):
        if time.monotonic() > deadline_s:
            return 0  # another guard serves this bench
        time.sleep(0.05)
    os.ftruncate(handle, 0)
    os.pwrite(handle, str(os.getpid()).encode(), 0)
    clock = BootClock(begins_at_s=boot_time_s())  # readings then carry boot time, whoever asks
    server = Server(Tools(off_loop_for(clock), _nobody, clock))
    try:
        trio.run(server.serve, folder / SOCKET, clock=clock)
    finally:
        (folder / SOCKET).unlink(missing_ok=True)
    return 0


def _locked(handle: int) -> bool:
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True


async def _nobody(question: Question) -> str | float | None:
    """Nobody can be asked in a process without a terminal."""
    await trio.sleep(question.wait_s)
    return None


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1])))
