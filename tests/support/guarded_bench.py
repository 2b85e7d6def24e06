"""A bench of which only the wall is missing: relays on a pseudo terminal, and `soak run` on them.

The relays keep what they were told, and when; the thermometer is a file.
"""

import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import patience
from serial_peer import SerialPeer, line_by_line

from soak.desk import units

HOUSE = Path(__file__).parents[2]
SOAK = (sys.executable, "-c", "from soak.cli.main import main; main()")
SHEET = """\
model = "Ferrow SP-40"
picture_when_on = "moving"
start_s = 20
mains = false
disk = false
lithium_cell = false
holds_data = false
[functions.cooling]
text = "stays cool"
key = true
check = "spots"
[spots.heatsink]
text = "heatsink"
limit_degc = 80
trip_degc = 90
"""
FIXTURE = """\
name = "relay {channel}"
[switch]
driver = "serial_text"
port = "{port}"
channel = "{channel}"
on = "RELAY {{channel}} ON"
off = "RELAY {{channel}} OFF"
on_answer = "OK {{channel}} 1"
off_answer = "OK {{channel}} 0"
settle_s = 0.05
answer_s = 20
beat_within_s = {beat_within_s}
[probe.heatsink]
driver = "number_file"
file = "{file}"
spot = "heatsink"
every_s = 0.2
silent_after_s = {silent_after_s}
guards = true
"""
SCRIPT = """\
name = "long"
not_after = "2 h"
[[stretch]]
name = "run"
lasts = "1 h"
[stretch.spots]
"""
COMMAND = re.compile(rb"RELAY (\d+) (ON|OFF)")


@dataclass
class Relays:
    """What the relays were told: (time by the monotonic clock in s, channel, on)."""

    told: list[tuple[float, str, bool]] = field(default_factory=list)

    def answer(self, line: bytes) -> bytes:
        """Obey, remember, answer."""
        found = COMMAND.match(line.strip())
        if found is None:
            return b"ERR\r\n"
        channel, on = found[1].decode(), found[2] == b"ON"
        self.told.append((time.monotonic(), channel, on))
        return f"OK {channel} {int(on)}\r\n".encode()

    def is_on(self, channel: str = "1") -> bool:
        """Return whether the last word to a relay was on."""
        words = [on for _, of, on in self.told if of == channel]
        return bool(words) and words[-1]

    def off_after_s(self, since_s: float, channel: str = "1") -> float:
        """Return how long after a time the relay was first told off, s."""
        offs = [t_s for t_s, of, on in self.told if of == channel and not on and t_s >= since_s]
        return offs[0] - since_s if offs else float("inf")


class GuardedBench:
    """A bench folder with two units on two channels of one relay board."""

    def __init__(
        self, folder: Path, beat_within_s: float = 60.0, silent_after_s: float = 60.0
    ) -> None:
        self.folder, self.relays = folder, Relays()
        self.link = folder / "relay-port"
        (folder / "fixtures" / "models").mkdir(parents=True)
        (folder / "scripts").mkdir()
        (folder / "fixtures" / "models" / "sp.toml").write_text(SHEET)
        (folder / "scripts" / "long.toml").write_text(SCRIPT)
        for channel in ("1", "2"):
            self.heat(channel, 40.0)
            values = {"channel": channel, "port": self.link, "beat_within_s": beat_within_s}
            values["silent_after_s"] = silent_after_s
            text = FIXTURE.format(file=self._thermometer(channel), **values)
            (folder / "fixtures" / f"f{channel}.toml").write_text(text)
        self.peer = SerialPeer(self.link, line_by_line(self.relays.answer))
        self.runners: list[subprocess.Popen[bytes]] = []
        for channel in ("1", "2"):
            units.add(folder, f"SN-{channel}", model="sp", tag=f"K{channel}")

    def heat(self, channel: str, degc: float) -> None:
        """Let the thermometer of a channel show a temperature from now on."""
        file = self._thermometer(channel)
        part = file.with_suffix(".part")
        part.write_text(f"{degc}\n")
        part.replace(file)

    def run(self, channel: str = "1", verb: Sequence[str] = ()) -> "subprocess.Popen[bytes]":
        """Start `soak run` on a channel (or another verb)."""
        usual = ("run", "long", "--unit", f"K{channel}@f{channel}", "--may-sleep")
        log = (self.folder / f"runner-{len(self.runners)}.txt").open("wb")
        with log:
            runner = subprocess.Popen(
                [*SOAK, *(verb or usual)],
                cwd=self.folder,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        self.runners.append(runner)
        return runner

    def said(self, number: int = 0) -> str:
        """Return what a runner printed."""
        return (self.folder / f"runner-{number}.txt").read_text()

    def guard_pid(self) -> int:
        """Return the number of the guard's process."""
        return int((self.guard_folder() / "guard.lock").read_text())

    def guard_folder(self) -> Path:
        """Return the folder of the guard's socket."""
        from soak.run.guard.place import guard_folder

        return guard_folder(self.folder / "reports")

    def soak_folder(self, tag: str = "K1") -> Path:
        """Return the folder of the one soak of a unit."""
        (found,) = (self.folder / "reports").glob(f"{tag}-*")
        return found

    def until(self, true: Callable[[], bool]) -> None:
        """Wait for something that other processes bring about."""
        patience.until(true, lambda: "\n".join(map(self.said, range(len(self.runners)))))

    def started(self, channel: str = "1") -> "subprocess.Popen[bytes]":
        """Start `soak run` and wait until the unit is on."""
        runner = self.run(channel)
        self.until(lambda: self.relays.is_on(channel))
        return runner

    def close(self) -> None:
        """End what was started here: runners by their numbers, then the guard by its."""
        for runner in self.runners:
            if runner.poll() is None:
                runner.send_signal(signal.SIGCONT)
                runner.kill()
                runner.wait()
        lock = self.guard_folder() / "guard.lock"
        if lock.exists():
            from soak.run.guard.process import kill_hung

            kill_hung(self.guard_folder())
        self.peer.unplug()

    def __enter__(self) -> "GuardedBench":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _thermometer(self, channel: str) -> Path:
        return self.folder / f"heatsink-{channel}.txt"


def kill(number: int, how: int = signal.SIGKILL) -> float:
    """Send a signal to one process; return when, by the monotonic clock in s."""
    os.kill(number, how)
    return time.monotonic()
