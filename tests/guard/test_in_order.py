"""What a runner says in one breath the guard does in that order."""

from types import SimpleNamespace

import pytest
import trio
import trio.testing

from soak.clock import LeapingClock
from soak.run.guard.guard import LoopGuard
from soak.run.guard.server import Server
from soak.run.guard.wire import Line, OtherEndGone


class Relay:
    """Keeps what it was told."""

    def __init__(self) -> None:
        self.told: list[bool] = []

    async def command(self, channel: str, on: bool) -> None:
        await trio.sleep(0.05)
        self.told.append(on)


def post_of(relay: Relay, clock: LeapingClock) -> SimpleNamespace:
    """Return a post whose log is not open yet."""
    return SimpleNamespace(
        guard=LoopGuard(relay, "1", {}, clock),
        heard=lambda: None,
        log=None,
        ready=trio.Event(),
        order=SimpleNamespace(channel="1"),
    )


@pytest.mark.parametrize("_round", range(20))
def test_of_on_and_off_in_one_breath_the_last_one_holds(_round):
    """A check that is cancelled while it waits for its on commands off at once (round by round,
    for tasks begun together run in any order).
    """
    relay, clock = Relay(), LeapingClock()

    async def main() -> None:
        post = post_of(relay, clock)
        post.ready.set()
        runner, ours = trio.testing.memory_stream_pair()
        said = b'{"do": "power", "on": true, "id": 1}\n{"do": "power", "on": false, "id": 2}\n'
        await runner.send_all(said)
        await runner.send_eof()
        async with trio.open_nursery() as nursery:
            with pytest.raises(OtherEndGone):
                await Server(None)._obey_all(post, Line(ours), nursery)

    trio.run(main, clock=clock)
    assert relay.told == [True, False]


def test_nothing_is_on_before_the_guard_would_notice_that_its_runner_is_gone():
    """Its log is still being opened: a runner that died or hung now would leave the unit on."""
    relay, clock = Relay(), LeapingClock()

    async def main() -> None:
        post = post_of(relay, clock)
        runner, ours = trio.testing.memory_stream_pair()
        async with trio.open_nursery() as nursery:
            nursery.start_soon(Server(None)._obey_all, post, Line(ours), nursery)
            await runner.send_all(b'{"do": "power", "on": true, "id": 1}\n')
            await trio.sleep(10.0)
            assert relay.told == []
            post.ready.set()
            await trio.sleep(1.0)
            assert relay.told == [True]
            nursery.cancel_scope.cancel()

    trio.run(main, clock=clock)
