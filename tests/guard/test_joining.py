"""One guard serves a bench: a second run joins it, two units on one channel are refused."""

import os
import shutil
import signal
import socket
import stat
from pathlib import Path

from guarded_bench import FIXTURE, GuardedBench, kill
from patience import LIMIT_S

from soak.desk.soaking.in_use import FOLDER


def test_a_second_run_joins_the_guard_and_has_its_own_channel(tmp_path: Path):
    """Two runners share one board; one being killed leaves the other's unit on."""
    with GuardedBench(tmp_path) as bench:
        first = bench.started("1")
        guard = bench.guard_pid()
        bench.started("2")
        assert bench.guard_pid() == guard
        kill(first.pid)
        bench.until(lambda: not bench.relays.is_on("1"))
        assert bench.relays.is_on("2")


def test_when_the_guard_dies_each_runner_switches_its_own_unit_off(tmp_path: Path):
    """Both take the port in turn, for each gives it back when it is done."""
    with GuardedBench(tmp_path) as bench:
        bench.started("1")
        bench.started("2")
        kill(bench.guard_pid())
        bench.until(lambda: not bench.relays.is_on("1") and not bench.relays.is_on("2"))


def test_a_second_unit_on_the_same_channel_is_refused(tmp_path: Path):
    """The first unit stays on: the refused one never had its channel commanded.

    The guard refuses it by itself, also where the locks are gone that refuse it before.
    """
    with GuardedBench(tmp_path) as bench:
        values = {"channel": "1", "port": bench.link, "beat_within_s": 60}
        values["silent_after_s"] = 60
        text = FIXTURE.format(file=tmp_path / "heatsink-2.txt", **values)
        (tmp_path / "fixtures" / "f2.toml").write_text(text)
        bench.started("1")
        shutil.rmtree(tmp_path / "reports" / FOLDER)
        refused = bench.run("2")
        assert refused.wait(LIMIT_S) == 3
        assert "is guarded for another soak that runs" in bench.said(1)
        assert bench.relays.is_on("1")


def test_nobody_else_can_reach_the_socket(tmp_path: Path):
    """The folder and the socket are this user's alone: that is the whole authentication."""
    with GuardedBench(tmp_path) as bench:
        bench.started()
        folder = bench.guard_folder()
        assert stat.S_IMODE(folder.stat().st_mode) == 0o700
        assert stat.S_IMODE((folder / "socket").stat().st_mode) == 0o600
        assert folder.stat().st_uid == os.getuid()


def test_a_stranger_who_says_nonsense_is_dropped_and_the_guard_goes_on(tmp_path: Path):
    """Garbage on the line ends that line and nothing else."""
    with GuardedBench(tmp_path) as bench:
        bench.started()
        for garbage in (b"\xff\xfe\n", b"[1,2]\n", b'{"do":"attach"}\n', b'{"do":"dance"}\n'):
            with socket.socket(socket.AF_UNIX) as stranger:
                stranger.connect(str(bench.guard_folder() / "socket"))
                stranger.sendall(garbage)
        second = bench.started("2")
        assert second.poll() is None
        assert bench.relays.is_on("1")


def test_two_units_of_one_run_share_the_guard_and_end_off(tmp_path: Path):
    """One program with two units is two soaks to the guard; its interrupt ends both."""
    with GuardedBench(tmp_path) as bench:
        units = ("--unit", "K1@f1", "--unit", "K2@f2")
        runner = bench.run(verb=("run", "long", *units, "--may-sleep"))
        bench.until(lambda: bench.relays.is_on("1") and bench.relays.is_on("2"))
        runner.send_signal(signal.SIGINT)
        assert runner.wait(LIMIT_S) == 130
        assert not bench.relays.is_on("1")
        assert not bench.relays.is_on("2")


def test_an_impatient_operator_who_interrupts_twice_leaves_the_unit_off(tmp_path: Path):
    """Leaving at once closes the line, and the guard does the rest."""
    with GuardedBench(tmp_path) as bench:
        runner = bench.started()
        runner.send_signal(signal.SIGINT)
        runner.send_signal(signal.SIGINT)
        runner.wait(LIMIT_S)
        bench.until(lambda: not bench.relays.is_on())
