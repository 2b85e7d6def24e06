"""A unit on a laboratory supply: SCPI on a pseudo terminal, the unit's picture over HTTP.

The supply keeps what it was told and when; the unit starts, or does not, as the supply feeds it.
"""

import os
import signal
import subprocess
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import patience
from serial_peer import SerialPeer, line_by_line
from soak_process import SOAK

from soak.ledger.ledger import Ledger
from soak.run.guard.place import guard_folder
from soak.run.guard.process import kill_hung

NOMINAL_V = 12.0
SHEET = """\
model = "clip player"
picture_when_on = "moving"
start_s = 1
start_limit_s = 10
mains = false
disk = false
lithium_cell = false
holds_data = false
[supply]
lowest_v = 10.8
nominal_v = 12.0
highest_v = 13.2
[ports.video]
text = "video output"
kind = "video"
[functions.start]
text = "starts at its rated voltage"
key = true
check = "supply_margin"
"""
FIXTURE = """\
name = "supply"
[switch]
driver = "scpi_supply"
port = "{port}"
settle_s = 0
pause_s = 0
sets_voltage = true
accuracy_v = 0.05
[capture]
driver = "opencv"
source = "{picture}"
port = "video"
"""
SCRIPT = """\
name = "limits"
not_after = "10 min"
[[stretch]]
name = "limits"
attended = true
[stretch.supply_margin]
starts = 1
hold_s = {hold_s}
off_s = 1
give_up_s = 6
breaks_s = [0.1]
times = 1
apart_s = 1
"""


@dataclass
class Supply:
    """A supply with one output, and the unit on it.

    Attributes
    ----------
    told : list of (float, str)
        Each command but the questions: time by the monotonic clock in s, text.
    starts_from_v : float
        Below this the unit on it stays dark.
    sags_v : float
        So much less than it is set to does it give.
    gives : float
        And so many times as much.
    mute : bool
        Whether it says nothing when it is asked what it gives.
    limits_every : int
        Of so many answers to that one says that its own current limit holds it at half; 0: none.
    """

    starts_from_v: float = 0.0
    sags_v: float = 0.0
    gives: float = 1.0
    mute: bool = False
    limits_every: int = 0
    asked: int = 0
    volt: float = 5.0
    on: bool = False
    told: list[tuple[float, str]] = field(default_factory=list)

    @property
    def is_on(self) -> bool:
        """Whether the unit is fed so that it runs."""
        return self.on and self.fed_v >= self.starts_from_v

    @property
    def fed_v(self) -> float:
        """What the unit on it gets, V."""
        return self.volt * self.gives - self.sags_v if self.on else 0.0

    def answer(self, line: bytes) -> bytes:
        """Answer a question; obey what is none, and remember it."""
        command = line.decode().strip()
        answers = {
            "*IDN?": "KITTIWAKE,PS-1,SN4,1.0",
            "SYST:ERR?": '0,"No error"',
            "OUTP?": str(int(self.on)),
            "VOLT?": f"{self.volt:.4E}",
            "MEAS:VOLT?": f"{self.fed_v:.4E}",
        }
        if command.startswith("MEAS"):
            self.asked += 1
            if self.mute:
                return b""
            if self.limits_every and self.asked % self.limits_every == 0:
                answers["MEAS:VOLT?"] = f"{self.fed_v / 2:.4E}"
        if command.endswith("?"):
            return f"{answers[command]}\n".encode()
        self.told.append((time.monotonic(), command))
        if command.startswith("OUTP"):
            self.on = command == "OUTP ON"
        elif command.startswith("VOLT"):
            self.volt = float(command.removeprefix("VOLT "))
        return b""

    def words(self) -> list[str]:
        """Return the commands without their times."""
        return [word for _, word in self.told if word != "*CLS"]


class SuppliedBench:
    """A bench folder with one unit on one supply, and `soak run` on it."""

    def __init__(self, folder: Path, supply: Supply, picture: str, hold_s: float = 1.0) -> None:
        self.folder, self.supply = folder, supply
        models = folder / "fixtures" / "models"
        models.mkdir(parents=True)
        (folder / "scripts").mkdir()
        (models / "clip-player.toml").write_text(SHEET)
        self.peer = SerialPeer(folder / "supply-port", line_by_line(supply.answer))
        text = FIXTURE.format(port=self.peer.link, picture=picture)
        (folder / "fixtures" / "supply.toml").write_text(text)
        (folder / "scripts" / "limits.toml").write_text(SCRIPT.format(hold_s=hold_s))
        Ledger(folder / "ledger.sqlite").add_unit(model="clip-player", tag="K1", serial="CP-1")

    def run(self) -> "subprocess.Popen[bytes]":
        """Start `soak run limits`."""
        words = ("run", "limits", "--unit", "K1@supply", "--may-sleep")
        with (self.folder / "said.txt").open("wb") as log:
            self.runner = subprocess.Popen(
                [*SOAK, *words],
                cwd=self.folder,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        return self.runner

    def said(self) -> str:
        """Return what the runner printed."""
        return (self.folder / "said.txt").read_text()

    def soak_folder(self) -> Path:
        """Return the folder of the one soak."""
        (found,) = (self.folder / "reports").glob("K1-*")
        return found

    def guard_pid(self) -> int:
        """Return the number of the guard's process."""
        return int((guard_folder(self.folder / "reports") / "guard.lock").read_text())

    def until(self, true: Callable[[], bool]) -> None:
        """Wait for something that other processes bring about."""
        patience.until(true, lambda: f"{self.said()}\n{self.supply.words()}")

    def __enter__(self) -> "SuppliedBench":
        return self

    def __exit__(self, *_: object) -> None:
        """End what was started here: the runner by its number, then the guard by its."""
        if self.runner.poll() is None:
            self.runner.send_signal(signal.SIGCONT)
            self.runner.kill()
            self.runner.wait()
        place = guard_folder(self.folder / "reports")
        if (place / "guard.lock").exists():
            kill_hung(place)
        self.peer.unplug()


def kill(number: int, how: int) -> None:
    """Send a signal to one process."""
    os.kill(number, how)
