"""Observed time: holes do not count and extend the stretch."""

import trio

from soak.clock import LeapingClock
from soak.records import State
from soak.run.observed import ObservedTime


def at_once(main) -> None:
    trio.run(main, clock=LeapingClock())


def test_a_stretch_is_extended_by_exactly_the_time_the_bench_was_blind():
    """100 s of observation with 30 s of blindness in it take 130 s."""

    async def main() -> None:
        latest = {"capture": State(0, "capture", "picture")}
        observed = ObservedTime(["capture"], latest.get, 0.0, trio.current_time)
        observed.begin()

        async def be_blind() -> None:
            await trio.sleep(20)
            observed.notice(State(20, "capture", "blind"))
            await trio.sleep(30)
            observed.notice(State(50, "capture", "picture"))

        async with trio.open_nursery() as nursery:
            nursery.start_soon(be_blind)
            await observed.reached(100)
        assert trio.current_time() == 130
        assert observed.total_s() == 100

    at_once(main)


def test_time_before_the_first_state_is_not_observed():
    """A source that has said nothing yet is not seeing."""

    async def main() -> None:
        observed = ObservedTime(["capture"], lambda _: None, 0.0, trio.current_time)
        observed.begin()
        await trio.sleep(7)
        assert observed.total_s() == 0
        observed.notice(State(7, "capture", "black"))
        await observed.reached(10)
        assert trio.current_time() == 17

    at_once(main)


def test_sources_that_do_not_belong_to_the_stretch_make_no_hole():
    """Blindness of another instrument does not stop the time."""

    async def main() -> None:
        seen = {"stick": State(0, "stick", "seen")}
        observed = ObservedTime(["stick"], seen.get, 5.0, trio.current_time)
        observed.begin()
        observed.notice(State(0, "capture", "blind"))
        await observed.reached(60)
        assert trio.current_time() == 55

    at_once(main)


def test_nothing_counts_before_it_begins():
    """What is seen of a unit that nobody has confirmed to be on is no observed time."""

    async def main() -> None:
        seen = {"stick": State(0, "stick", "seen")}
        observed = ObservedTime(["stick"], seen.get, 5.0, trio.current_time)

        async def confirm() -> None:
            await trio.sleep(40)
            assert observed.total_s() == 5.0
            observed.begin()

        async with trio.open_nursery() as nursery:
            nursery.start_soon(confirm)
            await observed.reached(60)
        assert trio.current_time() == 95

    at_once(main)
