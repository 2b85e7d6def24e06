"""A unit that is played in real time, on a bench whose processes can be stopped and killed.

The unit: a real clip over HTTP that follows a relay, a thermometer, a relay board, both on pseudo
terminals, and a stick that is a faulty file system where this machine mounts one. What was done
when, by the boot clock, is kept: it is the truth that a soak's records are held to.
"""

import http.server
import os
import shutil
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from contextlib import ExitStack, suppress
from pathlib import Path

import fuse_kernel
import patience
from fuse_disk import FuseDisk
from fuse_stick import FuseStick
from played_unit import FRAME_S, PlayedUnit
from serial_peer import SerialPeer, line_by_line
from soak_process import RELAY, SOAK
from soak_process import SHEET as TWENTY_SECONDS

import soak
from soak.clock import boot_time_s
from soak.desk import units
from soak.run.guard.place import guard_folder
from soak.run.guard.process import kill_hung

SPEAKS_EVERY_S = 0.5
LATE_S = 0.12
"""A picture so much late is a stall of the unit, which nobody meant."""
COOL_DEGC = 31.5
"""What the thermometer prints of a good unit; the limit is 60, the trip 70."""

SHEET = TWENTY_SECONDS.replace('start_s = "20 s"', 'start_s = "1 s"')
SCRIPT = """\
name = "short"
not_after = "4 min"
blind_allowed = {blind_allowed}
longest_blind = "3 min"
[[stretch]]
name = "starts"
attended = true
[stretch.power_cycles]
warm = 1
off_s = 2
on_s = 3
off_within_s = 5
give_up_s = 12
[[stretch]]
name = "run"
lasts = "{lasts_s} s"
attended = true
[stretch.picture]
{tail}[stretch.transfer]
chunk_bytes = 262_144
write_budget_bytes = "2 MB"
write_every_s = 30
pause_s = 0.2
stall_s = 3
first_s = 5
keep_speed = 0
drift = 0.9
[stretch.spots]
"""
INSTRUMENTS = """\
name = "played"
[capture]
driver = "opencv"
source = "{address}"
port = "video"
reopen_after_s = 6
"""
THERMOMETER = """\
[probe.outside]
driver = "serial_lines"
port = "{thermometer}"
pattern = 'T=(\\d+\\.\\d\\d)'
spot = "outside"
resolution = 0.01
accuracy = 0.5
guards = true
silent_after_s = 4
"""
STICK = """\
[stick]
driver = "folder"
folder = "{stick}"
port = "usb"
path = "through"
size = "2 MB"
limit_s = 8
reads_medium = ["fuse"]
"""
CHILDREN = {"capture": "soak.bench.capture.child_end", "stick": "soak.bench.child_end"}
"""What stands in the command line of an instrument's own process."""


class Board:
    """A relay board on a pseudo terminal; its relay may stay open, and it may not answer."""

    def __init__(self, link: Path) -> None:
        self.told: list[tuple[float, bool]] = []
        self.stays_open = self.deaf = False
        self.late_s = 0.0
        self.peer = SerialPeer(link, line_by_line(self._obey))

    def _obey(self, line: bytes) -> bytes:
        if self.deaf:
            return b""
        time.sleep(self.late_s)
        on = line.endswith(b" ON\n")
        self.told.append((boot_time_s(), on))
        return b"OK 2 1\n" if on else b"OK 2 0\n"

    @property
    def is_on(self) -> bool:
        """Whether the unit has power."""
        return bool(self.told) and self.told[-1][1] and not self.stays_open

    def ons(self) -> list[float]:
        """Return when the power was switched on, each time, s of the boot clock."""
        return [
            at_s
            for number, (at_s, on) in enumerate(self.told)
            if on and (not number or not self.told[number - 1][1])
        ]

    def offs(self) -> list[float]:
        """Return when it was told off, s of the boot clock."""
        return [at_s for at_s, on in self.told if not on]


class Unit(PlayedUnit):
    """A played unit whose picture can be lost, and whose stream can break off.

    Attributes
    ----------
    shows : str
        `clip`, `black`, `frozen`, `blinks` (black for 1 s in 6); of a stream also `nothing` (it
        stays open) and `away`.
    """

    def __init__(self, board: Board) -> None:
        self.shows, self.asked_s = "clip", list[float]()
        self.late_s: list[float] = []
        """When this process itself was so late that a picture was, too, s of the boot clock."""
        self._over = threading.Event()
        super().__init__(board)  # type: ignore[arg-type]  # it asks a relay no more than `is_on`
        # What nobody reads is dropped after a few pictures, as a card's driver does.
        self._server.socket.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, 8192)
        self._server.daemon_threads = True

    def serve(self) -> None:
        watching = threading.Thread(target=self._watch_itself)
        watching.start()
        super().serve()
        self._over.set()
        watching.join()

    def _watch_itself(self) -> None:
        while True:
            slept_s = boot_time_s()
            if self._over.wait(FRAME_S):
                return
            if boot_time_s() - slept_s > FRAME_S + LATE_S:
                self.late_s.append(slept_s)

    def frame(self, number: int) -> bytes:
        blinks = self.shows == "blinks" and time.monotonic() % 6 < 1
        if self.shows == "black" or blinks:
            return self._black
        return super().frame(0 if self.shows == "frozen" else number)

    def _handler(self) -> type[http.server.BaseHTTPRequestHandler]:
        unit = self

        class Handler(http.server.BaseHTTPRequestHandler):
            def log_message(self, *_: object) -> None:
                pass

            def do_GET(self) -> None:
                unit.asked_s.append(boot_time_s())
                with suppress(OSError):  # whoever asked has gone
                    if unit.shows != "away":
                        unit.stream_to(self)

        return Handler

    def stream_to(self, handler: http.server.BaseHTTPRequestHandler) -> None:
        """Send pictures at their times; those that nobody took in time are left out."""
        handler.send_response(200)
        handler.send_header("Content-Type", "multipart/x-mixed-replace; boundary=frame")
        handler.end_headers()
        begun_s, number = time.monotonic(), 0
        while self.shows != "away":
            if self.shows != "nothing":
                data = self.frame(number)
                head = f"--frame\r\nContent-Length: {len(data)}\r\nContent-Type: image/jpeg\r\n\r\n"
                handler.wfile.write(head.encode() + data + b"\r\n")
            number = max(number + 1, int((time.monotonic() - begun_s) / FRAME_S))
            time.sleep(max(0.0, begun_s + number * FRAME_S - time.monotonic()))


class Thermometer:
    """Prints a temperature twice a second, or as it is told.

    Attributes
    ----------
    says : str
        `degrees`, `nothing`, `garbage`, or `late`: what it holds back comes at once afterwards.
    """

    def __init__(self, link: Path) -> None:
        self.degc, self.says = COOL_DEGC, "degrees"
        self.once: list[float] = []
        """Values printed one time each, before all else."""
        self._over, self._held = threading.Event(), list[bytes]()
        self.peer = SerialPeer(link)
        self._thread = threading.Thread(target=self._talk)
        self._thread.start()

    def _talk(self) -> None:
        os.set_blocking(self.peer._master, False)  # a cable holds only so much that nobody reads
        while not self._over.wait(SPEAKS_EVERY_S):
            line = f"T={self.once.pop(0) if self.once else self.degc:.2f}\n".encode()
            if self.says == "nothing":
                continue
            if self.says == "late":
                self._held.append(line)
                continue
            line = b"\xff\x00T=4?\x80" * 4 + b"\n" if self.says == "garbage" else line
            held, self._held = b"".join(self._held), []
            with suppress(OSError):
                self.peer.say(held + line)

    def close(self) -> None:
        self._over.set()
        self._thread.join()
        self.peer.unplug()


class InterruptedBench:
    """A bench folder with one unit, K1, and the soak on it.

    Parameters
    ----------
    blind_allowed, lasts_s, tail_s : float
        Of the script: share that may be unseen, length of `run`, and of its end without a fault.
    """

    def __init__(
        self, folder: Path, *, blind_allowed: float = 0.6, lasts_s: float = 20.0, tail_s: float = 0
    ) -> None:
        self.folder, self._stack = folder, ExitStack()
        self.runners: list[subprocess.Popen[bytes]] = []
        self.has_stick = not fuse_kernel.why_not()
        self.disk: FuseDisk | None = None
        try:
            tail = f"failure_free_s = {tail_s}\n" if tail_s else ""
            self._open(SCRIPT.format(blind_allowed=blind_allowed, lasts_s=lasts_s, tail=tail))
        except BaseException:
            self._stack.close()
            raise

    def _open(self, script: str) -> None:
        beside = self.folder / "beside"
        beside.mkdir(parents=True)
        self.board = Board(beside / "relay")
        self._stack.callback(self.board.peer.__exit__)
        self.thermometer = Thermometer(beside / "thermometer")
        self._stack.callback(self.thermometer.close)
        self.unit = Unit(self.board)
        serving = threading.Thread(target=self.unit.serve)
        serving.start()
        self._stack.callback(serving.join)
        self._stack.callback(self.unit.close)
        fixture = INSTRUMENTS + RELAY + THERMOMETER
        if self.has_stick:
            self.stick = self._stack.enter_context(FuseStick(beside))
            self.disk = self._stack.enter_context(FuseDisk(self.folder / "bench", "reports"))
            fixture += STICK
        self._bench(fixture, script)

    def _bench(self, fixture: str, script: str) -> None:
        self.bench, beside = self.folder / "bench", self.folder / "beside"
        for name in ("fixtures/models", "scripts"):
            (self.bench / name).mkdir(parents=True)
        (self.bench / "fixtures" / "models" / "clip-player.toml").write_text(SHEET)
        places = {"relay": beside / "relay", "thermometer": beside / "thermometer"}
        text = fixture.format(address=self.unit.address, stick=beside / "stick", **places)
        (self.bench / "fixtures" / "left.toml").write_text(text)
        (self.bench / "scripts" / "short.toml").write_text(script)
        units.add(self.bench, "CP-1", model="clip-player", tag="K1")

    def run(self, *verb: str) -> float:
        """Start `soak run`, or `soak resume`; return when, s of the boot clock."""
        words = verb or ("run", "short", "--unit", "K1@left", "--may-sleep")
        with (self.folder / f"runner-{len(self.runners)}.txt").open("wb") as log:
            runner = subprocess.Popen(
                [*SOAK, *words],
                cwd=self.bench,
                env={**os.environ, "PYTHONPATH": str(Path(soak.__file__).parents[1])},
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self.runners.append(runner)
        return boot_time_s()

    def said(self) -> str:
        """Return what the runners printed."""
        logs = (self.folder / f"runner-{n}.txt" for n in range(len(self.runners)))
        return "\n".join(log.read_text(errors="replace") for log in logs)

    def until(self, true: Callable[[], object]) -> None:
        """Wait for something that other processes bring about."""
        patience.until(true, self.said)

    @property
    def soak_folder(self) -> Path:
        """The folder of the one soak."""
        (found,) = (self.bench / "reports").glob("K1-*")
        return found

    def pids(self, who: str) -> list[int]:
        """Return the processes of `runner`, `guard`, `capture`, `stick` or `all`, guard first.

        In this order none of them has time to act on another's end.
        """
        if who == "all":
            return [pid for one in ("guard", "runner", *CHILDREN) for pid in self.pids(one)]
        if who == "runner":
            return [self.runners[-1].pid] if self.runners[-1].poll() is None else []
        if who == "guard":
            return self._guards()
        return [pid for pid in _children(self.runners[-1].pid) if CHILDREN[who] in _command(pid)]

    def _guards(self) -> list[int]:
        """Return the number of the guard of this bench, if it runs."""
        lock = guard_folder(self.bench / "reports") / "guard.lock"
        text = lock.read_text() if lock.exists() else ""
        alive = text.isdigit() and "soak.run.guard.process" in _command(int(text))
        return [int(text)] if alive else []

    def signal(self, who: str, how: signal.Signals) -> None:
        """Send a signal to each process of `who`, `group` being the runner's process group."""
        if who == "group":
            os.killpg(self.runners[-1].pid, how)
            return
        for pid in self.pids(who):
            with suppress(ProcessLookupError):
                os.kill(pid, how)

    def close(self) -> None:
        """End what was started here."""
        for runner in self.runners:
            if runner.poll() is None:
                runner.send_signal(signal.SIGCONT)
                runner.kill()
                runner.wait()
        if (guard_folder(self.bench / "reports") / "guard.lock").exists():
            kill_hung(guard_folder(self.bench / "reports"))
        for kept in (self.bench / "reports").glob("K1-*"):  # the disk below goes away
            shutil.copytree(kept, self.folder / "records" / kept.name)
        self._stack.close()

    def __enter__(self) -> "InterruptedBench":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def _children(pid: int) -> list[int]:
    found = []
    for entry in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):
            after = (entry / "stat").read_text().rpartition(")")[2].split()
            if int(after[1]) == pid:
                found.append(int(entry.name))
    return found


def _command(pid: int) -> str:
    try:
        return Path(f"/proc/{pid}/cmdline").read_bytes().replace(b"\0", b" ").decode()
    except OSError:
        return ""


if sys.platform != "linux":  # processes are found in /proc
    raise ImportError("interrupted soaks are played on Linux only")
