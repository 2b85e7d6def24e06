"""Work in a child process that can be killed or left behind."""

import operator
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
import trio
from bench_tools import run_leaping, run_real
from patience import LIMIT_S

from soak.bench.child import Child, ChildDied
from soak.bench.registry import Tools


def test_work_is_done_in_one_other_process() -> None:
    """The same child serves call after call."""

    async def main(tools: Tools) -> None:
        child = Child(tools.off_loop)
        first = await child.call(LIMIT_S, os.getpid)
        assert first == await child.call(LIMIT_S, os.getpid) != os.getpid()
        await child.aclose()
        await child.aclose()

    run_real(main)


def test_work_over_its_limit_is_killed_and_the_next_call_has_a_new_child() -> None:
    """The caller does not wait for work that hangs, and the hanging process is gone."""

    async def main(tools: Tools) -> None:
        child = Child(tools.off_loop)
        first = await child.call(LIMIT_S, os.getpid)
        with pytest.raises(TimeoutError):
            await child.call(0.1, time.sleep, 2 * LIMIT_S)
        assert await child.call(LIMIT_S, os.getpid) != first
        with pytest.raises(ProcessLookupError):
            os.kill(first, 0)
        await child.aclose()

    run_real(main)


def test_a_stopped_child_does_not_keep_the_program_from_ending() -> None:
    """A process that ends while its child hangs ends at once."""
    program = (
        "import os, signal, time, trio\n"
        "from soak.bench.child import Child\n"
        "from soak.bench.off_loop import ThreadOffLoop\n"
        "from soak.clock import BootClock\n"
        "clock = BootClock()\n"
        "async def main():\n"
        "    child = Child(ThreadOffLoop(clock))\n"
        "    with trio.move_on_after(0.1):\n"
        "        await child.call(200, os.kill, await child.call(200, os.getpid), signal.SIGSTOP)\n"
        "trio.run(main, clock=clock)\n"
    )
    ran = subprocess.run([sys.executable, "-W", "error", "-c", program], timeout=LIMIT_S)
    assert ran.returncode == 0


HAS_PROC = Path("/proc/self").is_dir()
SAYS = "this system does not say who is stopped"


@pytest.mark.skipif(not HAS_PROC, reason=SAYS)
def test_a_child_that_was_stopped_tells_for_how_long() -> None:
    """Stopped for a second amid its work, and woken: that is no second of the work."""

    async def main(tools: Tools) -> None:
        child = Child(tools.off_loop)
        pid = await child.call(LIMIT_S, os.getpid)
        stopped = f"grep -q '^State:.T' /proc/{pid}/status"
        wakes = f"until {stopped}; do sleep 0.05; done; sleep 1; kill -CONT {pid}"
        with subprocess.Popen(["sh", "-c", wakes]):
            await child.call(LIMIT_S, os.kill, pid, signal.SIGSTOP)
        assert child.stood_s > 0.9
        await child.aclose()

    run_real(main)


@pytest.mark.skipif(not HAS_PROC, reason=SAYS)
def test_a_child_that_was_stopped_before_it_was_asked_stood_still_in_no_work() -> None:
    """Idle, it was stopped for a second, and woke before the next work came."""

    async def main(tools: Tools) -> None:
        child = Child(tools.off_loop)
        pid = await child.call(LIMIT_S, os.getpid)
        os.kill(pid, signal.SIGSTOP)
        await trio.sleep(1.0)
        os.kill(pid, signal.SIGCONT)
        await child.call(LIMIT_S, os.getpid)
        assert child.stood_s < 0.9
        await child.aclose()

    run_real(main)


@pytest.mark.skipif(not HAS_PROC, reason=SAYS)
def test_a_child_that_stays_stopped_is_not_taken_for_a_medium_that_hangs() -> None:
    """The limit passes, and it is said that the process was stopped."""

    async def main(tools: Tools) -> None:
        child = Child(tools.off_loop)
        pid = await child.call(LIMIT_S, os.getpid)
        with pytest.raises(ChildDied, match="was stopped"):
            await child.call(1.0, os.kill, pid, signal.SIGSTOP)
        await child.aclose()

    run_real(main)


def test_what_work_raises_is_raised_to_the_caller_with_its_errno() -> None:
    """An error of the system keeps its number on the way."""

    async def main(tools: Tools) -> None:
        child = Child(tools.off_loop)
        with pytest.raises(FileNotFoundError) as fault:
            await child.call(LIMIT_S, os.stat, "/does/not/exist")
        assert fault.value.errno == 2
        with pytest.raises(ZeroDivisionError):
            await child.call(LIMIT_S, operator.truediv, 1, 0)
        assert child.running
        await child.aclose()

    run_real(main)


def test_a_child_that_dies_is_told_and_replaced() -> None:
    """A crash of the child is one clear error, and the next call works."""

    async def main(tools: Tools) -> None:
        child = Child(tools.off_loop)
        with pytest.raises(ChildDied, match="ended in the middle"):
            await child.call(LIMIT_S, os.kill, await child.call(LIMIT_S, os.getpid), signal.SIGKILL)
        assert await child.call(LIMIT_S, operator.add, 1, 2) == 3
        await child.aclose()

    run_real(main)


def test_what_a_library_prints_does_not_get_between_the_answers(
    capfd: pytest.CaptureFixture[str],
) -> None:
    """The child's standard output goes to standard error."""

    async def main(tools: Tools) -> None:
        child = Child(tools.off_loop)
        await child.call(LIMIT_S, os.write, 1, b"noise\n")
        assert await child.call(LIMIT_S, operator.add, 1, 2) == 3
        await child.aclose()

    run_real(main)
    out, err = capfd.readouterr()
    assert (out, err) == ("", "noise\n")


def test_a_result_that_cannot_be_sent_is_an_error_and_not_a_hang() -> None:
    """An open file does not travel between processes."""

    async def main(tools: Tools) -> None:
        child = Child(tools.off_loop)
        with pytest.raises(RuntimeError, match="cannot be sent back"):
            await child.call(LIMIT_S, open, "/dev/null")
        await child.aclose()

    run_real(main)


def test_no_child_is_started_while_time_leaps() -> None:
    """The way off the loop refuses, so the child does too."""

    async def main(tools: Tools) -> None:
        child = Child(tools.off_loop)
        with pytest.raises(RuntimeError, match="clock leaps"):
            await child.call(LIMIT_S, os.getpid)
        assert not child.running

    run_leaping(main)
