"""Leaving the event loop: with a limit, and never while time leaps."""

import threading

import pytest
import trio
from bench_tools import run_leaping, run_real
from patience import LIMIT_S

from soak.bench.off_loop import LeapingOffLoop, ThreadOffLoop, off_loop_for
from soak.bench.registry import Tools
from soak.clock import BootClock, LeapingClock


def test_work_is_done_in_another_thread() -> None:
    """The event loop stays free."""

    async def main(tools: Tools) -> None:
        here = threading.get_ident()
        assert await tools.off_loop.call(LIMIT_S, threading.get_ident) != here

    run_real(main)


def test_work_over_its_limit_is_abandoned() -> None:
    """The caller goes on although the work never ends."""
    ends = threading.Event()

    async def main(tools: Tools) -> None:
        with pytest.raises(TimeoutError, match=r"no answer within 0\.05 s"):
            await tools.off_loop.call(0.05, ends.wait, LIMIT_S)

    run_real(main)
    ends.set()


def test_what_work_raises_is_raised_to_the_caller() -> None:
    """An error is not lost in the thread."""

    async def main(tools: Tools) -> None:
        with pytest.raises(ZeroDivisionError):
            await tools.off_loop.call(LIMIT_S, divmod, 1, 0)

    run_real(main)


def test_hanging_threads_cannot_use_up_more_than_their_number() -> None:
    """With every place taken by hanging work a new call times out and starts no thread."""
    ends, started = threading.Event(), threading.Event()

    async def main(tools: Tools) -> None:
        few = ThreadOffLoop(tools.clock, threads=1)
        with pytest.raises(TimeoutError):
            await few.call(0.05, ends.wait, LIMIT_S)
        with pytest.raises(TimeoutError):
            await few.call(0.05, started.set)
        assert not started.is_set()
        ends.set()
        await few.call(LIMIT_S, started.set)

    run_real(main)


@pytest.mark.parametrize("off_loop", [LeapingOffLoop(), None], ids=["none", "threads"])
def test_nothing_leaves_the_loop_while_time_leaps(off_loop: LeapingOffLoop | None) -> None:
    """Time limits would fire at once, so the work is refused by name and not done."""

    async def main(tools: Tools) -> None:
        way = off_loop or ThreadOffLoop(tools.clock)
        done: list[int] = []
        with pytest.raises(RuntimeError, match=r"append would leave the event loop"):
            await way.call(1.0, done.append, 1)
        assert done == []

    run_leaping(main)


def test_the_way_off_the_loop_fits_the_clock() -> None:
    """A leaping clock gets the one that refuses."""

    async def main() -> None:
        assert isinstance(off_loop_for(LeapingClock()), LeapingOffLoop)
        assert isinstance(off_loop_for(BootClock()), ThreadOffLoop)

    trio.run(main)
