"""Whoever is killed, the unit is off: the relays on a real port say so.

How soon stands in `benchmarks/guard_kills.py` and `guard_hung.py`.
"""

import os
import signal
from pathlib import Path

from guarded_bench import GuardedBench, kill
from patience import LIMIT_S


def test_a_killed_runner_is_noticed_at_once_and_the_unit_is_off(tmp_path: Path):
    """The guard outlives its runner, switches off, says so in its log and ends."""
    with GuardedBench(tmp_path) as bench:
        runner = bench.started()
        kill(runner.pid)
        bench.until(lambda: not bench.relays.is_on())
        bench.until(lambda: not (bench.guard_folder() / "socket").exists())
        log = (bench.soak_folder() / "guard.jsonl").read_text().splitlines()
        assert "the runner is gone" in log[-1]


def test_a_killed_guard_is_noticed_at_once_and_the_runner_switches_off(tmp_path: Path):
    """The runner takes the port, switches off and ends the soak as a fault of the bench."""
    with GuardedBench(tmp_path) as bench:
        runner = bench.started()
        kill(bench.guard_pid())
        bench.until(lambda: not bench.relays.is_on())
        runner.wait(LIMIT_S)
        assert "bench fault: the guard's process is gone" in bench.said()


def test_a_runner_killed_before_its_guard_leaves_the_unit_off(tmp_path: Path):
    """Killing one after the other finds the unit off already at the second kill."""
    with GuardedBench(tmp_path) as bench:
        runner = bench.started()
        guard = bench.guard_pid()
        kill(runner.pid)
        bench.until(lambda: not bench.relays.is_on())
        if (bench.guard_folder() / "socket").exists():
            kill(guard)
        assert not bench.relays.is_on()


def test_after_both_died_at_once_the_next_start_switches_off_first(tmp_path: Path):
    """Nobody is left to switch off; `soak resume` does so before anything else."""
    with GuardedBench(tmp_path) as bench:
        runner = bench.started()
        kill(bench.guard_pid(), signal.SIGSTOP)  # so that it cannot act between the two kills
        kill(runner.pid)
        kill(bench.guard_pid())
        assert bench.relays.is_on()
        words = len(bench.relays.told)
        bench.run(verb=("resume", "last", "--may-sleep"))
        bench.until(lambda: len(bench.relays.told) > words)
        assert bench.relays.told[words][1:] == ("1", False)


def test_a_stopped_runner_is_taken_for_hung_and_the_unit_is_off(tmp_path: Path):
    """A runner that lives and says nothing is no better than a dead one."""
    with GuardedBench(tmp_path, beat_within_s=1.0) as bench:
        runner = bench.started()
        kill(runner.pid, signal.SIGSTOP)
        bench.until(lambda: not bench.relays.is_on())
        kill(runner.pid, signal.SIGCONT)
        runner.wait(LIMIT_S)
        assert not bench.relays.is_on()
        assert "has not been heard" in bench.said()


def test_a_stopped_guard_is_killed_and_the_runner_switches_off(tmp_path: Path):
    """A hung guard is ended first, for it still holds the port."""
    with GuardedBench(tmp_path) as bench:
        runner = bench.started()
        guard = bench.guard_pid()
        kill(guard, signal.SIGSTOP)
        bench.until(lambda: not bench.relays.is_on())
        runner.wait(LIMIT_S)
        assert not lives(guard)
        assert "bench fault: the guard has said nothing" in bench.said()


def test_ctrl_c_ends_the_runner_cleanly_and_the_guard_hears_of_it_from_him(tmp_path: Path):
    """The terminal's interrupt reaches the runner's group only; off, sealed, graded."""
    with GuardedBench(tmp_path) as bench:
        runner = bench.started()
        bench.until(lambda: (bench.soak_folder() / "guard.jsonl").exists())
        signal_group(runner.pid)
        assert runner.wait(LIMIT_S) == 130
        assert not bench.relays.is_on()
        log = (bench.soak_folder() / "guard.jsonl").read_text().splitlines()
        assert "Ctrl-C by the operator" in log[-1]


def lives(pid: int) -> bool:
    """Return whether a process runs or is stopped; a dead one may wait for its parent."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def signal_group(pid: int) -> None:
    os.killpg(pid, signal.SIGINT)
