"""A guard whose switch does not answer lives on, and whoever comes next is told of it."""

import signal
import sys
from pathlib import Path

import trio
from guarded_bench import GuardedBench, kill
from patience import LIMIT_S
from trio.testing import memory_stream_pair
from typed_bench import typed

sys.path.insert(0, str(Path(__file__).parents[1] / "run"))
from small_bench import Faults, World

from soak.clock import LeapingClock
from soak.run.guard.post import Order, Post
from soak.run.guard.server import Server
from soak.run.guard.wire import Line


def test_the_next_command_says_that_a_unit_may_be_on(tmp_path: Path):
    """Its runner is dead and the switch's port is gone: every command says so until it is off."""
    with GuardedBench(tmp_path) as bench:
        runner = bench.started()
        bench.peer.unplug()
        kill(runner.pid, signal.SIGKILL)
        asked = ("--bench", str(tmp_path), "show")
        bench.until(lambda: "tries to switch off K1-" in typed(*asked).err)
        said = typed(*asked).err
        assert "The unit may be on" in said
        assert "channel 1" in said
        refused = bench.run("2")
        assert refused.wait(LIMIT_S) == 3
        assert "tries to switch off K1-" in bench.said(1)
        bench.peer.plug()
        bench.until(lambda: not bench.relays.is_on())
        bench.until(lambda: not (bench.guard_folder() / "socket").exists())
        assert "tries to switch off" not in typed(*asked).err


class InLoop:
    """Work that is not taken off the loop, for there is none."""

    async def call(self, limit_s: float, work: object, *args: object) -> object:
        await trio.lowlevel.checkpoint()
        raise TimeoutError


def test_a_soak_that_ended_in_order_is_not_called_a_runner_that_is_gone():
    """It waited for its last off as long as it does, and left the guard to go on with it."""
    world, clock, noted = World(Faults(deaf=[(20, 300)])), LeapingClock(), []

    async def main() -> None:
        runner, ours = memory_stream_pair()
        order = Order("S-1", "1", 0.0, 60.0, {}, {})
        post = Post(order, {"switch": world}, frozenset(), InLoop(), clock)

        async def note(what: str, detail: dict) -> None:
            noted.append((what, dict(detail)))

        post.note = note
        async with trio.open_nursery() as nursery:
            nursery.start_soon(Server(None).guard, post, Line(ours))
            await runner.send_all(b'{"do": "begin", "folder": "nowhere"}\n')
            await runner.send_all(b'{"do": "power", "on": true, "id": 1}\n')
            await trio.sleep(30)
            await runner.send_all(b'{"do": "end", "why": "the soak is over", "id": 2}\n')
            await trio.sleep(20)
            assert post.not_off["what"].startswith("the soak is over: does not answer")
            await runner.aclose()

    trio.run(main, clock=clock)
    assert not world.is_on
    assert noted[-1] == ("guard ends", {"why": "the soak is over"})
    assert "the runner is gone" not in str(noted)


def test_the_guards_word_is_none_where_no_guard_runs(tmp_path: Path):
    """A bench on which nothing runs makes no folder and says nothing."""
    from soak.desk.soaking.guard_told import guard_says

    assert guard_says(tmp_path) == []
    assert list(tmp_path.iterdir()) == []
