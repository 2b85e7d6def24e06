"""The switch's adapter goes and comes back: off first, held for a minute from then on."""

import os
import sys
from pathlib import Path

import pytest
import trio

sys.path.insert(0, str(Path(__file__).parents[1] / "run"))
from small_bench import Faults, World, within

from soak.clock import LeapingClock
from soak.records import Mark
from soak.run.guard.post import Order, Post

GOOD_AGAIN_S = 60.0
"""docs/explanation/the-guard.md."""


class Ports:
    """The system's list of ports, from which the adapter is gone while it does not answer."""

    def __init__(self, world: World) -> None:
        self._world = world

    async def call(self, limit_s: float, work: object, *args: object) -> object:
        await trio.lowlevel.checkpoint()
        if work is os.path.exists:
            return not within(trio.current_time(), self._world.faults.deaf)
        raise TimeoutError  # there is no folder for a log


def watched(world: World, ports: Ports) -> list[Mark]:
    """Switch on and let the guard watch the switch's port for five minutes; return its marks."""
    clock, said = LeapingClock(), []

    async def main() -> None:
        order = Order("S-1", "1", 0.0, 1e9, {}, {})
        post = Post(order, {"switch": world}, frozenset(), ports, clock)
        async with trio.open_nursery() as nursery:
            nursery.start_soon(post.watch, said.append)
            await trio.sleep(5)
            await post.guard.command("1", True)
            await trio.sleep(300)
            nursery.cancel_scope.cancel()

    trio.run(main, clock=clock)
    return [mark for mark in said if isinstance(mark, Mark)]


@pytest.mark.parametrize("away", [[(20, 3)], [(20, 3), (60, 3)], [(20, 3), (26, 3), (32, 3)]])
def test_power_is_allowed_a_minute_after_the_adapter_was_away_last(away):
    """One that comes and goes is one silence, not three, and the minute begins anew each time."""
    world = World(Faults(deaf=away))
    world.identity = {"port": "/dev/relay"}

    marks = watched(world, Ports(world))
    (rearmed,) = [mark for mark in marks if mark.what == "rearmed"]
    back_s = away[-1][0] + away[-1][1]
    assert back_s + GOOD_AGAIN_S <= rearmed.t_s <= back_s + GOOD_AGAIN_S + 20
    assert [on for t_s, on in world.told if t_s > 20] == [False] * len(away)
    assert {mark.detail["source"] for mark in marks if mark.what == "silence"} == {"switch"}


class Names(Ports):
    """A list of ports in which the adapter has another name after each time that it was away."""

    def __init__(self, world: World, since: list[tuple[float, str]]) -> None:
        super().__init__(world)
        self._since = since

    def name(self, t_s: float) -> str:
        return [name for from_s, name in self._since if from_s <= t_s][-1]

    async def call(self, limit_s: float, work: object, *args: object) -> object:
        await super().call(limit_s, work, *args)
        return args[0] == self.name(trio.current_time())


class Found(World):
    """A switch that finds its adapter under whatever name it has, whenever it is told anything."""

    ports: Names

    async def command(self, channel: str, on: bool) -> None:
        await super().command(channel, on)
        self.identity = {"port": self.ports.name(trio.current_time())}


def test_an_adapter_that_was_away_twice_in_a_moment_and_has_another_name_is_found_again():
    """Its off was answered at once; then it went again before anybody saw that it was back."""
    world = Found(Faults())
    world.identity = {"port": "/dev/relay0"}
    world.ports = Names(world, [(0, "/dev/relay0"), (20, "/dev/relay1"), (20.5, "/dev/relay2")])

    marks = watched(world, world.ports)
    (rearmed,) = [mark for mark in marks if mark.what == "rearmed"]
    assert 80 <= rearmed.t_s <= 100
