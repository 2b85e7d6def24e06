"""A supply that is set: off first, then nominal, whoever ends it and whatever fails."""

import math
from dataclasses import replace
from typing import ClassVar

import pytest
import trio
from hypothesis import given
from hypothesis import strategies as st

from soak.clock import LeapingClock
from soak.errors import BenchFault
from soak.records import Mark
from soak.run.guard.events import (
    End,
    Fed,
    Gone,
    Silent,
    Unheard,
    Value,
    Wish,
    WishBreak,
    WishVoltage,
    Woke,
)
from soak.run.guard.guard import LoopGuard
from soak.run.guard.step import LONGEST_BREAK_S, Guarding, GuardState, guard_step

SPOT, TRIP_DEGC, NOMINAL_V, LOWEST_V = "probe.heatsink", 90.0, 12.0, 10.85
FRESH = GuardState(
    guarding={SPOT: Guarding(SPOT, TRIP_DEGC)},
    beat_within_s=5.0,
    nominal_v=NOMINAL_V,
    highest_v=13.2,
    accuracy_v=0.05,
)
times = st.floats(0, 1e5).map(lambda t: round(t, 1))
volts = st.sampled_from((LOWEST_V, NOMINAL_V, 13.15))
events = st.one_of(
    st.builds(Wish, times, st.booleans()),
    st.builds(WishVoltage, times, volts),
    st.builds(WishBreak, times, st.floats(0, 10)),
    st.builds(Value, times, st.just(SPOT), st.floats(-20, 150)),
    st.builds(Fed, times, st.none() | st.floats(0, 30)),
    st.builds(Silent, times, st.just(SPOT)),
    st.builds(Unheard, times, st.floats(0, 20)),
    st.builds(Woke, times, st.floats(0, 1e5)),
)
histories = st.lists(events, max_size=40).map(lambda found: sorted(found, key=lambda e: e.t_s))
ends = st.sampled_from([End(2e5, "over"), Gone(2e5), Woke(2e5, 10.0), Unheard(2e5, 9.0)])


def play(history, state=FRESH) -> tuple[GuardState, list[Mark]]:
    said: list[Mark] = []
    for event in history:
        state, marks = guard_step(state, event)
        said += marks
    return state, said


def stands_at(said) -> tuple[bool, float | None]:
    """Return what a supply that obeys every order is left as: on, and its voltage."""
    on, volt = False, None
    for mark in said:
        on = bool(mark.detail["on"]) if mark.what == "power" else on
        volt = mark.detail["volt"] if mark.what == "voltage" else volt
    return on, volt


@given(histories, st.none() | st.floats(13.26, 60))
def test_more_than_the_unit_is_rated_for_is_cut_for_good(history, volt):
    """Whatever came before, and where the supply does not say; then nothing is switched on."""
    state, _ = play(history)
    after, marks = guard_step(state, Fed(2e5, volt))
    if state.on:
        assert [mark.detail["on"] for mark in marks if mark.what == "power"] == [False]
        assert "alarm" in [mark.what for mark in marks]
        assert guard_step(after, Wish(2e5, True))[1] == []
    assert not after.on


@given(histories, volts)
def test_no_voltage_is_set_that_would_be_too_much_by_what_the_supply_gave(history, volt):
    """By how many times what it was set to it gave when it was last read."""
    state, _ = play(history)
    _, marks = guard_step(replace(state, on=False), WishVoltage(2e5, volt))
    for mark in marks:
        assert float(mark.detail["volt"]) * state.gives <= 13.2 or state.gives <= 1


@given(histories, ends)
def test_every_end_leaves_it_off_and_at_nominal(history, end):
    """Also where off was ordered before, and the first order of the end is off."""
    state, said = play(history)
    _, marks = guard_step(state, end)
    assert stands_at([*said, *marks]) == (False, NOMINAL_V) or state.ended
    if not state.ended:
        ordered = [mark for mark in marks if mark.what in ("power", "voltage")]
        assert (ordered[0].what, ordered[0].detail["on"]) == ("power", False)


@given(histories)
def test_the_voltage_changes_only_while_the_unit_is_off(history):
    """A running unit never sees a step; each off is followed by nominal before the next on."""
    on, volt = False, None
    for mark in play(history)[1]:
        if mark.what == "voltage":
            assert not on
            volt = mark.detail["volt"]
        elif mark.what == "power":
            assert not mark.detail["on"] or volt is not None
            on = bool(mark.detail["on"])
        elif mark.what == "break":
            assert on


@given(histories)
def test_no_break_is_longer_than_the_guard_may_be_deaf(history):
    """A longer wish is cut to the limit."""
    breaks = [m.detail["for_s"] for m in play(history)[1] if m.what == "break"]
    assert all(for_s <= LONGEST_BREAK_S for for_s in breaks)


@given(histories)
def test_a_switch_that_sets_no_voltage_is_never_told_one(history):
    """Without a nominal voltage no order names one."""
    _, said = play(history, replace(FRESH, nominal_v=None))
    assert {mark.what for mark in said}.isdisjoint({"voltage", "break"})


class Supply:
    """A supply that keeps what it was told, and fails where a test says so."""

    identity: ClassVar[dict[str, str]] = {}
    nominal_v = NOMINAL_V
    highest_v, accuracy_v = 13.2, 0.05

    def __init__(self, takes_s: float = 0.0) -> None:
        self.told: list[object] = []
        self.broken: set[str] = set()
        self.takes_s = takes_s

    async def command(self, channel: str, on: bool) -> None:
        self.told.append(on)

    async def set_voltage(self, channel: str, volt: float) -> float:
        await trio.sleep(self.takes_s)
        if "voltage" in self.broken:
            raise BenchFault("switch", "did not answer")
        self.told.append(volt)
        return volt

    async def fed_v(self, channel: str) -> float:
        return 10.84

    async def interrupt(self, channel: str, for_s: float) -> float:
        self.told.append("break")
        if "break" in self.broken:
            raise BenchFault("switch", "OUTP? says that it is still off")
        return for_s

    async def aclose(self) -> None:
        pass


class Relay:
    """A switch that sets nothing."""

    identity: ClassVar[dict[str, str]] = {}

    async def command(self, channel: str, on: bool) -> None:
        pass

    async def aclose(self) -> None:
        pass


def run(switch, deeds) -> list[Mark]:
    """Let a guard do some deeds; return what it said."""
    clock, said = LeapingClock(), list[Mark]()

    async def main() -> None:
        guard = LoopGuard(switch, "1", {}, clock)
        await deeds(guard)
        guard.close()
        said.extend([one async for one in guard.events() if isinstance(one, Mark)])

    trio.run(main, clock=clock)
    return said


def test_it_is_nominal_before_the_first_power_and_after_each_off():
    """Nobody knows what a supply stood at before."""
    supply = Supply()

    async def deeds(guard):
        await guard.command("1", True)
        await guard.command("1", False)
        await guard.set_voltage("1", LOWEST_V)
        await guard.command("1", True)
        assert await guard.fed_v("1") == 10.84
        await guard.end("over", math.inf)

    run(supply, deeds)
    assert supply.told == [NOMINAL_V, True, False, LOWEST_V, True, False, NOMINAL_V]


def test_a_setting_cut_short_is_taken_for_unknown_and_ends_nominal():
    """Cancelled while the supply is being set: the end sets nominal, and is not safe before."""
    supply = Supply(takes_s=1.0)

    async def deeds(guard):
        with trio.move_on_after(0.5):
            await guard.set_voltage("1", LOWEST_V)
        assert not guard.is_safe
        await guard.end("over", math.inf)
        assert guard.is_safe

    run(supply, deeds)
    assert supply.told[-2:] == [False, NOMINAL_V]


def test_a_supply_that_does_not_go_back_is_off_and_said_aloud():
    """Off is answered all the same; a person is told to set the voltage, and on is refused."""
    supply = Supply()

    async def deeds(guard):
        await guard.set_voltage("1", LOWEST_V)
        await guard.command("1", True)
        supply.broken.add("voltage")
        await guard.command("1", False)
        with pytest.raises(BenchFault, match="did not answer"):
            await guard.command("1", True)

    said = run(supply, deeds)
    assert supply.told == [LOWEST_V, True, False]
    (needed,) = [mark for mark in said if mark.what == "hand needed"]
    assert "nominal voltage" in needed.detail["why"]


def test_a_break_that_does_not_come_back_ends_off():
    """What the output does then nobody knows."""
    supply = Supply()

    async def deeds(guard):
        await guard.command("1", True)
        assert (await guard.interrupt("1", 0.1)).detail["broken_s"] == 0.1
        supply.broken.add("break")
        with pytest.raises(BenchFault, match="still off"):
            await guard.interrupt("1", 0.1)
        assert not guard.is_on

    said = run(supply, deeds)
    assert supply.told == [NOMINAL_V, True, "break", "break", False]
    power = [mark.detail["on"] for mark in said if mark.what == "power"]
    assert power == [True, False, True, False, False]


@pytest.mark.parametrize("deed", ["set_voltage", "interrupt", "fed_v"])
def test_a_plain_switch_refuses_in_one_sentence(deed):
    """A relay neither sets a voltage nor tells one."""

    async def deeds(guard):
        args = ("1",) if deed == "fed_v" else ("1", 1.0)
        with pytest.raises(BenchFault, match="sets no voltage; a supply"):
            await getattr(guard, deed)(*args)

    run(Relay(), deeds)


def test_a_running_unit_is_not_given_another_voltage():
    """And a unit that is off has no break."""
    supply = Supply()

    async def deeds(guard):
        with pytest.raises(BenchFault, match="only of a unit that is on"):
            await guard.interrupt("1", 0.1)
        await guard.command("1", True)
        with pytest.raises(BenchFault, match="only while the unit is off"):
            await guard.set_voltage("1", LOWEST_V)

    run(supply, deeds)
    assert supply.told == [NOMINAL_V, True]
