"""The supply's limits on units that start in their own way: a maker's sign first, or dead."""

import sys
from collections.abc import AsyncIterator, Sequence
from pathlib import Path

import pytest
import trio

sys.path.insert(0, str(Path(__file__).parent))
from headers import placed
from scripted_bench import ScriptedBench

from soak.checks.base import Done
from soak.checks.supply_margin import SupplyMargin, SupplyMarginSettings
from soak.clock import LeapingClock
from soak.records import Mark, State

RATED = {"lowest_v": 10.8, "nominal_v": 12.0, "highest_v": 13.2}
FIXTURE = {"switch": {"sets_voltage": True, "accuracy_v": 0.05, "rated": RATED}}
START_S = 12.0
Plays = Sequence[tuple[float, str]]


class FedBench(ScriptedBench):
    """A supply, and a capture that shows what the unit plays after each on."""

    def __init__(self, clock: LeapingClock, plays: Plays, dies_at_break: int = 99) -> None:
        super().__init__(clock)
        self._plays, self._left, self._dead = plays, dies_at_break, False
        self._latest, self._news = State(0.0, "capture", "no signal"), trio.Event()

    async def set_voltage(self, volt: float, why: str = "") -> Mark:
        return Mark(self.clock.now_s(), "voltage")

    async def fed_v(self) -> float:
        return 12.0

    async def interrupt(self, for_s: float, why: str = "") -> float:
        await trio.sleep(for_s)
        self._left -= 1
        self._dead = self._left <= 0
        if self._dead:
            self._show("no signal")
        return for_s

    async def follow(self, source: str) -> AsyncIterator[State]:
        told = None
        while True:
            if self._latest is not told:
                told = self._latest
                yield told
            else:
                await self._news.wait()

    async def unit(self) -> None:
        while True:
            switched = self.switched
            if self.is_on and not self._dead:
                on_s = self.told[-1][0]
                with trio.move_on_after(1e5):
                    for after_s, state in self._plays:
                        await trio.sleep_until(on_s + after_s)
                        if self.told[-1] == (on_s, True):
                            self._show(state)
            else:
                self._show("no signal")
            await switched.wait()

    def _show(self, state: str) -> None:
        self._latest = State(self.clock.now_s(), "capture", state)
        self._news.set()
        self._news = trio.Event()


def tried(
    plays: Plays, dies_at_break: int = 99, promise: str = "moving", **settings: object
) -> FedBench:
    clock, found = LeapingClock(), []

    async def main() -> None:
        bench = FedBench(clock, plays, dies_at_break)
        own = SupplyMarginSettings(**{"off_s": 10.0, "hold_s": 30.0, "give_up_s": 60.0, **settings})
        check = SupplyMargin(
            own, placed("it", FIXTURE, {"start_s": START_S, "picture_when_on": promise})
        )
        async with trio.open_nursery() as nursery:
            nursery.start_soon(bench.unit)
            await check.measure(bench, Done(), bench.said.append)
            nursery.cancel_scope.cancel()
        found.append(bench)

    trio.run(main, clock=clock)
    return found[0]


@pytest.mark.parametrize(
    ("plays", "degree", "held_s"),
    [
        # The maker's sign, a dark second, and up: nothing but a start.
        ([(3, "picture"), (5, "black"), (START_S, "picture")], "no effect", 30.0),
        ([(10, "picture")], "no effect", 30.0),
        ([(3, "picture"), (5, "black")], "needs a hand", 0.0),
        ([(10, "picture"), (20, "black"), (25, "picture")], "recovers by itself", 8.0),
    ],
)
def test_a_makers_sign_before_the_picture_is_part_of_the_start(plays, degree, held_s):
    """What comes and goes before the usual start is over is no loss; what goes later is one."""
    told = tried(plays, starts=1, breaks_s=[]).marks("supply trial")[0].detail
    shown = {"needs a hand", "does not recover"} if degree == "needs a hand" else {degree}
    assert told["degree"] in shown
    assert told["held_s"] == pytest.approx(held_s, abs=0.1)


@pytest.mark.parametrize(
    ("promise", "degree"), [("may blank", "no effect"), ("still", "needs a hand")]
)
def test_a_screen_that_may_blank_holds_its_picture_when_it_blanks(promise, degree):
    """What the model sheet calls no loss is none at the rated limits either."""
    plays = [(START_S, "picture"), (START_S + 8.0, "black")]
    (told,) = tried(plays, promise=promise, starts=1, breaks_s=[]).marks("supply trial")[:1]
    assert told.detail["degree"] == degree


def test_a_dead_units_supply_is_broken_no_more():
    """A break of what shows nothing has "no effect", and would count for the unit."""
    bench = tried([(10, "picture")], dies_at_break=2, starts=0, breaks_s=[0.1], times=5)
    degrees = [mark.detail["degree"] for mark in bench.marks("short break")]
    assert degrees == ["no effect", "does not recover"]
