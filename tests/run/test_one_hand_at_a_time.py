"""Check, guard and operator want different things at once: the unit is pressed and fed once."""

import sys
from pathlib import Path

import pytest
import trio

sys.path.insert(0, str(Path(__file__).parent))
from headers import fixture_of, sheet_of
from small_bench import FIXTURE, SCRIPT, SHEET, STARTS_AFTER_S, Faults, World, run_small_soak

from soak.clock import LeapingClock
from soak.derive.course import course_of
from soak.errors import BenchFault
from soak.frozen.sheet import PowerButton as Told
from soak.judge.judging import judge_requirement
from soak.records import Mark, Reading, State
from soak.run.button import PowerButton
from soak.run.hub import Hub
from soak.run.power import Power
from soak.states import BLIND

PRESSED = {**FIXTURE, "button": {"driver": "test"}}
STOPS = Told(stops=True).model_dump(mode="json")
STAYS_OFF = Told(stops=True, stays_off=True, start_held_s=2.0).model_dump(mode="json")


def seen_in_run(ran) -> list[str]:
    """Return what the capture saw last, before the stretch `run` was over."""
    ends_s = next(m.t_s for m in ran.marks if m.what == "stretch ends" and m.stretch == "run")
    states = ran.journal.evidence.states("capture")
    return [one.state for one in states if one.t_s < ends_s][-1:]


class Held(World):
    """A button that a cancelled press has pressed all the same, for it was down already."""

    async def press(self, held_s: float) -> None:
        await self.release()
        try:
            await trio.sleep(held_s)
        finally:
            if self.is_on and not self.runs:
                self.on_since_s, self.runs = trio.current_time(), True
            else:
                self.runs = False
            self._tell()


def test_a_stretch_left_amid_a_soft_stop_leaves_no_unit_in_standby():
    """The operator goes on 3 s after the press: the unit is cut and started for the next."""
    before = run_small_soak(Faults(), SCRIPT, PRESSED, button=STOPS)
    pressed_s = next(mark.t_s for mark in before.marks if mark.what == "button")
    ran = run_small_soak(Faults(skip_at_s=pressed_s + 3), SCRIPT, PRESSED, button=STOPS)
    assert seen_in_run(ran) == ["picture"]
    assert ran.world.cut_while_running == []


def test_a_stretch_left_amid_the_press_that_starts_it_does_not_press_twice():
    """Nobody knows what the press did, so the unit is cut before the next one."""
    before = run_small_soak(Faults(), SCRIPT, PRESSED, button=STAYS_OFF)
    from_s = next(mark.detail["from_s"] for mark in before.marks if mark.what == "button")
    faults = Faults(skip_at_s=from_s + 1)
    ran = run_small_soak(faults, SCRIPT, PRESSED, told=Held(faults), button=STAYS_OFF)
    assert seen_in_run(ran) == ["picture"]


class Slow(World):
    """Pressed by an operator who comes after 40 s."""

    async def press(self, held_s: float) -> None:
        await trio.sleep(40.0)
        await super().press(held_s)


class RidesThrough(World):
    """A unit that stays off when power comes back, and goes on through 0.5 s without."""

    off_s, ran = -1e9, False

    async def command(self, channel: str, on: bool) -> None:
        if not on and self.is_on:
            self.off_s, self.ran = trio.current_time(), self.runs
        elif on and not self.is_on and self.ran and trio.current_time() - self.off_s < 0.5:
            self.is_on = self.runs = True
        await super().command(channel, on)

    async def watch(self, watcher: object):
        latest = ""
        while True:
            now_s = trio.current_time()
            alive = self.runs or (self.ran and not self.is_on and now_s - self.off_s < 0.5)
            shows = alive and now_s - self.on_since_s >= STARTS_AFTER_S
            state = "picture" if shows else "no signal"
            if state != latest:
                latest = state
                yield State(now_s, "capture", state)
            await trio.sleep(0.1)


def test_a_unit_that_rides_through_a_break_is_not_pressed_off_as_if_it_stayed_off():
    """Its picture never went, so it runs: the press that starts it would stop it."""
    quick = {"warm": 1, "quick": 2, "quick_off_low_s": 0.1, "quick_off_high_s": 0.3, "on_s": 40}
    starts = {**SCRIPT["stretch"][0], "power_cycles": quick}
    script = {**SCRIPT, "stretch": [starts, SCRIPT["stretch"][1]]}
    told = RidesThrough(Faults())
    ran = run_small_soak(Faults(), script, PRESSED, told=told, button=STAYS_OFF)
    breaks = [m.detail["degree"] for m in ran.marks if m.what == "short break"]
    assert breaks == ["no effect"] * 2
    assert seen_in_run(ran) == ["picture"]


def test_a_silent_probe_during_a_knock_makes_no_unit_need_a_hand():
    """The guard held the power off for longer than a start is waited for: a hole, no degree."""
    cycles = {"warm": 1, "quick": 2, "off_s": 20, "on_s": 40, "give_up_s": 120}
    starts = {**SCRIPT["stretch"][0], "power_cycles": cycles}
    script = {**SCRIPT, "not_after": "2 h", "stretch": [starts]}
    before = run_small_soak(Faults(), script)
    knocked_s = next(m.t_s for m in before.marks if m.detail.get("kind") == "quick")
    ran = run_small_soak(Faults(silent=[(knocked_s + 2, 200)]), script)
    course = course_of(ran.journal.evidence)
    wanted = next(one for one in course.header.requirements if one.rule == "short breaks")
    found = judge_requirement(wanted, [course])
    assert found.verdict.value != "not met"
    assert "needed a hand" not in found.because


class _NoJournal:
    full = None

    def append(self, record: object) -> int:
        return 1


class _Guard:
    """Answers after 50 ms, unless it is deaf, and says what it did."""

    def __init__(self) -> None:
        self.tell, self._told = trio.open_memory_channel(100)
        self.deaf = False
        self.orders: list[bool] = []

    async def command(self, channel: str, on: bool, why: str = "") -> Mark:
        await trio.sleep(0.05)
        if self.deaf:
            raise BenchFault("switch", "does not answer")
        self.orders.append(on)
        mark = Mark(trio.current_time(), "power", detail={"on": on, "channel": channel})
        self.tell.send_nowait(mark)
        return mark

    async def events(self):
        async for record in self._told:
            yield record


def in_a_race(story) -> None:
    """Play a story on a guard, the runner's hand on the power and a button."""
    clock = LeapingClock()

    async def main() -> None:
        hub, guard, world = Hub(_NoJournal(), print), _Guard(), World(Faults())
        power = Power(guard, "1", hub, clock, print)
        button = PowerButton(
            world, sheet_of({**SHEET, "button": STAYS_OFF}), fixture_of(PRESSED), hub, clock
        )
        hub.listeners.append(button.notice)
        power.wake = button.wake
        async with trio.open_nursery() as nursery:
            nursery.start_soon(power.follow_guard)
            await power.set(True, "the check")
            guard.tell.send_nowait(Mark(0.0, "silence", detail={"source": "probe.spot"}))
            guard.tell.send_nowait(Mark(0.0, "power", detail={"on": False}))
            await trio.sleep(1)
            await story(guard, power, button)
            nursery.cancel_scope.cancel()

    trio.run(main, clock=clock)


def test_what_the_guard_wanted_on_stays_off_once_a_check_wants_it_off():
    """The switch was deaf when the guard re-armed; the check's off came before it heard again."""

    async def story(guard, power, button) -> None:
        guard.deaf = True
        guard.tell.send_nowait(Mark(1.0, "rearmed"))
        await trio.sleep(2)
        guard.deaf = False
        await power.set(False, "the check")
        await trio.sleep(60)
        assert guard.orders == [True, False]

    in_a_race(story)


def test_a_press_whose_power_was_cut_meanwhile_waits_for_the_next_power():
    """Pressed without power it starts nothing, and the next start would go without its press."""

    async def story(guard, power, button) -> None:
        guard.tell.send_nowait(Mark(1.0, "rearmed"))
        await trio.sleep(1)
        await power.set(False, "the check")
        await trio.sleep(20)
        on = await power.set(True, "the check")
        pressed = await button.wake("the check")
        assert pressed is not None
        wanted_s = on.t_s + STAYS_OFF["start_after_s"]
        assert pressed.detail["from_s"] == pytest.approx(wanted_s, abs=0.2)

    in_a_race(story)


def test_a_start_pressed_by_hand_is_measured_from_the_confirmation():
    """The operator takes 40 s to come and press; that is no time the unit took to start."""
    fixture = {**FIXTURE, "button": {"driver": "by_hand"}}
    told = Slow(Faults())
    ran = run_small_soak(Faults(), SCRIPT, fixture, told=told, button=STAYS_OFF)
    took_s = [m.detail["took_s"] for m in ran.marks if m.what == "start ended"]
    assert took_s == pytest.approx([STARTS_AFTER_S] * 3, abs=2.5)  # it was held for 2 s


LOW, HIGH = Reading(6.0, "probe.supply", 0.02), Reading(6.0, "probe.supply", 1.0)
DARK = State(6.0, "capture", "no signal")


@pytest.mark.parametrize(
    ("meanwhile", "ended", "by"),
    [
        ([State(2.0, "capture", BLIND), LOW], True, "probe.supply"),
        ([State(2.0, "capture", "stalled"), LOW], True, "probe.supply"),
        ([State(2.0, "capture", BLIND), HIGH], False, ""),
        ([State(2.0, "capture", BLIND), State(2.0, "probe.supply", BLIND)], None, ""),
        ([State(2.0, "probe.supply", BLIND), DARK], True, "capture"),
        ([DARK, HIGH], False, "capture"),
        ([HIGH], False, ""),
        ([Mark(2.0, "power", detail={"on": False}), DARK, LOW], None, ""),
    ],
)
def test_what_went_blind_during_a_soft_stop_is_not_charged_to_the_unit(meanwhile, ended, by):
    """Picture and current must go; what sees nothing any more says neither, nor does a cut."""
    supply = {"driver": "test", "unit": "A", "spot": ""}
    fixture, clock, found = {**PRESSED, "probe": {"supply": supply}}, LeapingClock(), []

    async def main() -> None:
        hub, world = Hub(_NoJournal(), print), World(Faults(), is_on=True, runs=True)
        button = PowerButton(
            world, sheet_of({**SHEET, "button": STOPS}), fixture_of(fixture), hub, clock
        )
        hub.listeners.append(button.notice)
        hub.publish(Mark(0.0, "power", detail={"on": True}))
        hub.publish(State(0.0, "capture", "picture"))
        hub.publish(Reading(0.0, "probe.supply", 1.0))

        async def play() -> None:
            for record in meanwhile:
                await trio.sleep_until(record.t_s)
                hub.publish(record)

        async with trio.open_nursery() as nursery:
            nursery.start_soon(play)
            found.append(await button.soft_stop("test"))
            nursery.cancel_scope.cancel()

    trio.run(main, clock=clock)
    assert (found[0].detail["ended"], found[0].detail["by"]) == (ended, by)
