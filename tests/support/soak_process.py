"""The program as an operator starts it: a process of its own, on instruments of the test."""

import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from serial_peer import SerialPeer, line_by_line

from soak.clock import boot_time_s
from soak.ledger.ledger import Ledger

SOAK = [sys.executable, "-c", "from soak.cli.main import main; main()"]

SHEET = """\
model = "clip player"
picture_when_on = "moving"
start_s = "20 s"
mains = false
disk = false
lithium_cell = false
holds_data = false
[ports.video]
text = "video output"
kind = "video"
[ports.usb]
text = "USB port"
kind = "usb"
[functions.video]
text = "plays clips"
key = true
check = "picture"
port = "video"
[functions.storage]
text = "reads sticks"
check = "transfer"
port = "usb"
[spots.outside]
text = "top of the case"
limit_degc = 60
trip_degc = 70
"""
RELAY = """\
[switch]
driver = "serial_text"
port = "{relay}"
channel = "2"
line_end = "\\n"
on = "RELAY {{channel}} ON"
off = "RELAY {{channel}} OFF"
on_answer = "OK {{channel}} 1"
off_answer = "OK {{channel}} 0"
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
"""


def new_bench(path: Path) -> None:
    """Make a bench folder with the model sheet and one unit, K1."""
    (path / "fixtures" / "models").mkdir(parents=True)
    (path / "fixtures" / "models" / "clip-player.toml").write_text(SHEET)
    Ledger(path / "ledger.sqlite").add_unit(model="clip-player", tag="K1", serial="CP-1")


def started(bench: Path, *words: str) -> "subprocess.Popen[str]":
    """Start `soak --bench BENCH ...`."""
    return subprocess.Popen(
        [*SOAK, "--bench", str(bench), *words],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


@contextmanager
def handed_down_ignored(*numbers: signal.Signals) -> Iterator[None]:
    """Hand processes that are started meanwhile these signals down ignored."""
    before = [(number, signal.signal(number, signal.SIG_IGN)) for number in numbers]
    try:
        yield
    finally:
        for number, handler in before:
            signal.signal(number, handler)


class Relay(SerialPeer):
    """A relay board that takes lines of text and remembers what it was told.

    Attributes
    ----------
    on_at_s : list of float
        When it was told to switch on, by the boot clock, s.
    """

    def __init__(self, link: Path) -> None:
        self.is_on = False
        self.on_at_s: list[float] = []
        super().__init__(link, line_by_line(self._obey))

    def _obey(self, line: bytes) -> bytes:
        self.is_on = line.endswith(b" ON\n")
        if self.is_on:
            self.on_at_s.append(boot_time_s())
        return b"OK 2 1\n" if self.is_on else b"OK 2 0\n"

    @property
    def told(self) -> list[str]:
        """What it was told, in order: `on` or `off`."""
        return [line.split()[-1].decode().lower() for line in self.heard]


@contextmanager
def thermometer(link: Path, degc: float = 31.5, every_s: float = 0.5) -> Iterator[SerialPeer]:
    """Print a temperature again and again, as a small USB thermometer does."""
    over = threading.Event()
    with SerialPeer(link) as peer:

        def talk() -> None:
            while not over.wait(every_s):
                peer.say(f"T={degc:.2f}\n".encode())

        thread = threading.Thread(target=talk)
        thread.start()
        try:
            yield peer
        finally:
            over.set()
            thread.join()
