"""Runner, guard and line in one leaping loop: whatever dies or hangs, the unit ends off."""

import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import trio
from hypothesis import given, settings
from hypothesis import strategies as st
from trio.testing import memory_stream_pair

sys.path.insert(0, str(Path(__file__).parents[1] / "run"))
from headers import wanted_of
from small_bench import FIXTURE, SCRIPT, SHEET, Faults, World, nobody

from soak.checks.base import all_checks
from soak.clock import LeapingClock
from soak.errors import BenchFault
from soak.instruments import Instruments
from soak.journal.memory import MemoryJournal
from soak.run.guard.link import ProcessGuard
from soak.run.guard.post import Order, Post
from soak.run.guard.server import Server
from soak.run.guard.wire import Line
from soak.run.in_hand import Wiring
from soak.run.plan import Plan, make_plan
from soak.run.script import script_from
from soak.run.soak import Soak

NEVER_S = 1e9
ALL_OVER_S = 900.0
"""By then every fault below is over and the unit must be off."""


class Clogging(trio.abc.Stream):
    """A stream on which nothing arrives any more from a time on: its other end hangs."""

    def __init__(self, stream: trio.abc.Stream, from_s: float) -> None:
        self._stream, self._from_s = stream, from_s

    async def send_all(self, data: bytes) -> None:
        if trio.current_time() < self._from_s:
            await self._stream.send_all(data)
        else:
            await trio.lowlevel.checkpoint()

    async def wait_send_all_might_not_block(self) -> None:
        await self._stream.wait_send_all_might_not_block()

    async def receive_some(self, max_bytes: int | None = None) -> bytes:
        return await self._stream.receive_some(max_bytes)

    async def aclose(self) -> None:
        await self._stream.aclose()


class InLoop:
    """Work that is not taken off the loop, for there is none: the log's folder is not there."""

    async def call(self, limit_s: float, work: Callable, *args: object) -> object:
        await trio.lowlevel.checkpoint()
        raise TimeoutError


sometime = st.one_of(st.just(NEVER_S), st.floats(0, 150))
spans = st.lists(st.tuples(st.integers(0, 120), st.integers(1, 60)), max_size=2)


def plan() -> Plan:
    cycles = {"warm": 2, "off_s": 10, "on_s": 20}
    stretches = [{"name": "starts", "power_cycles": cycles, "spots": {}}]
    script = {**SCRIPT, "not_after": "3 min", "stretch": stretches}
    wanted = wanted_of("S-1", "J-1", {"tag": "S"}, SHEET, FIXTURE, {}, 1, True)
    return make_plan(script_from(script, "small.toml", all_checks()), wanted, {})


@settings(max_examples=20)
@given(
    faults=st.builds(Faults, deaf=spans, silent=spans, hot_from_s=sometime),
    runner_dies_s=sometime,
    guard_dies_s=sometime,
    line_hangs_s=sometime,
)
def test_whatever_dies_or_hangs_the_unit_ends_off(
    faults, runner_dies_s, guard_dies_s, line_hangs_s
):
    """Only where runner and guard are both dead may the relay stay on."""
    world, clock = World(faults), LeapingClock()

    async def main() -> None:
        runner_end, guard_end = memory_stream_pair()
        runner_line = Line(Clogging(runner_end, line_hangs_s))
        guard_line = Line(Clogging(guard_end, line_hangs_s))
        async with trio.open_nursery() as nursery:
            nursery.start_soon(guard_side, world, guard_line, guard_dies_s, clock)
            nursery.start_soon(runner_side, world, runner_line, runner_dies_s, clock)
            await trio.sleep(ALL_OVER_S)
            nursery.cancel_scope.cancel()

    trio.run(main, clock=clock)
    both_died = max(runner_dies_s, guard_dies_s) < NEVER_S
    first_s = min(runner_dies_s, guard_dies_s, line_hangs_s, faults.hot_from_s)
    if first_s > 30 and not faults.deaf and not faults.silent:
        assert any(on for _, on in world.told)  # or nothing was tried
    assert both_died or not world.is_on


async def guard_side(world: World, line: Line, dies_s: float, clock: LeapingClock) -> None:
    order = Order("S-1", "1", 0.0, 5.0, plan().guarding, {})
    post = Post(order, {"switch": world, "probe.hot": world}, frozenset(), InLoop(), clock)
    with trio.move_on_at(dies_s):
        async with trio.open_nursery() as nursery:
            nursery.start_soon(line.deliver)
            nursery.start_soon(beats, line)
            nursery.start_soon(dying, post, dies_s)
            with suppress(Dead):
                await Server(None).guard(post, line)
            nursery.cancel_scope.cancel()
    await line.aclose()


class Dead(Exception):
    """A process that is killed does nothing more, not even what it always does at last."""


async def dying(post: Post, at_s: float) -> None:
    await trio.sleep_until(at_s)

    async def nothing(*_: object) -> None:
        raise Dead

    post.lost = nothing


async def beats(line: Line) -> None:
    while True:
        line.tell({"said": "beat"})
        await trio.sleep(0.25)


async def runner_side(world: World, line: Line, dies_s: float, clock: LeapingClock) -> None:
    planned = plan()

    async def off_at_last(hung: bool, unanswered: Callable[[str], None]) -> None:
        while True:
            with suppress(BenchFault):
                return await world.command("1", False)
            await trio.sleep(1)

    identities = {"switch": {}, "probe.hot": {}}
    guard = ProcessGuard(line, identities, Path(), planned.guarding, clock, off_at_last)
    instruments = Instruments(switch=guard.switch, capture=world, probes=guard.probes)
    wiring = Wiring(instruments, object(), nobody, clock, guard=guard)
    journal = MemoryJournal(planned.header, clock=clock)
    with trio.move_on_at(dies_s) as living:
        await Soak(replace(planned), journal, wiring).run()
    if not living.cancelled_caught:
        await trio.sleep(1)
    await line.aclose()
