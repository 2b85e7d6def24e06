"""Starting the guard: it loads what its fixture names, is waited for, and says why it cannot start.

How soon and how often stands in `benchmarks/guard_start.py`.
"""

import signal
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest
from guarded_bench import GuardedBench
from patience import LIMIT_S, until

from soak.bench.registry import driver_of, drivers
from soak.errors import BenchFault
from soak.run.guard import start as guard_start
from soak.run.guard.place import guard_folder
from soak.run.guard.start import AT_MOST_S, STANDSTILL_S, Progress, Starting

linux = pytest.mark.skipif(sys.platform != "linux", reason="looks into /proc")


@linux
def test_a_guard_loads_no_driver_that_its_fixture_does_not_name(tmp_path: Path):
    """On a relay board and a thermometer it holds no picture library and no arrays."""
    with GuardedBench(tmp_path) as bench:
        bench.started()
        maps = Path(f"/proc/{bench.guard_pid()}/maps").read_text()
        assert "cv2" not in maps
        assert "numpy" not in maps


def test_one_driver_is_the_same_as_among_all() -> None:
    """What the guard loads by name is what a fixture was checked against."""
    for (role, kind), found in drivers().items():
        assert driver_of(role, kind) is found
    for kind in ("nothing", "serial_text.x", "../main", ""):
        with pytest.raises(KeyError):
            driver_of("switch", kind)


def test_a_guard_that_breaks_at_its_start_says_why(tmp_path: Path):
    """Its own last line stands in the one sentence, and the soak does not begin."""
    with GuardedBench(tmp_path) as bench:
        (guard_folder(tmp_path / "reports") / "guard.lock").mkdir()
        runner = bench.run()
        assert runner.wait(LIMIT_S) == 3
        assert "guard: its process could not be started (IsADirectoryError" in bench.said()
        assert "nothing was switched on" in bench.said()
        (guard_folder(tmp_path / "reports") / "guard.lock").rmdir()


class Played:
    """A process that is started and never comes up, and the clock that it is waited for by."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, gets_on_until_s: float) -> None:
        self.now_s, self.killed, self._gets_on_until_s = 0.0, False, gets_on_until_s
        process = SimpleNamespace(pid=1, poll=lambda: None, returncode=None, kill=self._kill)
        monkeypatch.setattr(guard_start, "start", lambda place: process)
        monkeypatch.setattr(guard_start, "_processor_s", lambda pid: self._used_s())
        monkeypatch.setattr(guard_start, "time", SimpleNamespace(monotonic=lambda: self.now_s))

    def _kill(self) -> None:
        self.killed = True

    def _used_s(self) -> float:
        return min(self.now_s, self._gets_on_until_s) / 100

    def waited_for(self, place: Path) -> tuple[float, str]:
        """Return for how long it is waited for, s, and what is said then."""
        starting = Starting(place)
        while True:
            try:
                starting.go_on()
            except BenchFault as fault:
                return self.now_s, str(fault)
            self.now_s += 1.0


@pytest.mark.parametrize("gets_on_s", [0.0, 100.0, 400.0])
def test_a_guard_is_waited_for_as_long_as_it_gets_on(tmp_path, monkeypatch, gets_on_s):
    """A busy host gives it a hundredth of a processor; what stands still is given up in time."""
    played = Played(monkeypatch, gets_on_s)
    waited_s, said = played.waited_for(tmp_path)
    assert waited_s == pytest.approx(gets_on_s + STANDSTILL_S, abs=2)
    assert "got no further" in said
    assert played.killed


def test_a_guard_that_gets_on_and_never_comes_up_is_given_up_too(tmp_path, monkeypatch):
    """One that runs in a circle does not hold the operator for ever."""
    waited_s, said = Played(monkeypatch, 1e9).waited_for(tmp_path)
    assert waited_s == pytest.approx(AT_MOST_S, abs=2)
    assert "was not up after 10 min" in said


@pytest.mark.parametrize(
    ("code", "why"),
    [
        ("import os, signal; os.kill(os.getpid(), signal.SIGKILL)", "SIGKILL"),
        ("1/0", "exit code 1"),
    ],
)
def test_a_guard_that_ended_says_how(tmp_path, monkeypatch, code, why):
    """By a signal, as where the memory ran out, or by a code of its own."""

    def start(place: Path) -> "subprocess.Popen[bytes]":
        quiet = subprocess.DEVNULL
        return subprocess.Popen([sys.executable, "-c", code], stdout=quiet, stderr=quiet)

    monkeypatch.setattr(guard_start, "start", start)
    starting, said = Starting(tmp_path), list[str]()

    def ended() -> bool:
        try:
            starting.go_on()
        except BenchFault as fault:
            said.append(str(fault))
        return bool(said)

    until(ended)
    assert why in said[0]


@linux
def test_progress_is_time_of_a_processor() -> None:
    """A process that counts gets on, one that is stopped does not; a new one has got on."""
    process = subprocess.Popen([sys.executable, "-c", "while True: pass"])
    try:
        progress = Progress()
        assert progress.seen(process.pid)
        until(lambda: progress.seen(process.pid))
        process.send_signal(signal.SIGSTOP)
        until(lambda: Path(f"/proc/{process.pid}/stat").read_text().split()[2] == "T")
        progress.seen(process.pid)
        assert not progress.seen(process.pid)
    finally:
        process.kill()
        process.wait()
    assert not progress.seen(process.pid)
