"""The unit's own power button: off in order before the power is cut, and on where it stays off."""

import math
from collections.abc import Callable, Collection
from contextlib import aclosing
from dataclasses import replace
from typing import Any, Literal, cast

import trio

from soak.clock import SoakClock
from soak.errors import BenchFault
from soak.frozen import sheet as of_model
from soak.frozen.fixture import Fixture
from soak.marks import ButtonPressed, PowerChanged, SoftStop, fact_in, mark_of
from soak.records import Mark, Observed, Reading, State
from soak.roles import Button
from soak.run.hub import Hub
from soak.run.lost import well_again
from soak.states import (
    ALIVE,
    BLIND,
    DARK,
    PICTURE,
    SHOWS_WITHIN_S,
    patient_start_limit_s,
    shows_off,
)

CURRENT_SHARE = 0.5
"""Off in order it draws less than this share of what it drew before the press. Half, as for a
contact under test in IEC 60512-2-5; that it fits a unit in standby is our own choice."""

_TOLD_WITHIN_S = 5.0
"""So soon after the switch's answer its mark is on record. Our own choice."""

Does = Literal["start", "stop"]


_NO_BUTTON = of_model.PowerButton.model_construct(stops=False)
"""What is known of the button of a model whose sheet names none."""


class PowerButton:
    """Press the button as the model sheet says, and see what comes of it.

    Parameters
    ----------
    button : Button or None
        What presses; None where none is wired: then nothing is ever pressed.
    sheet : ModelSheet
    fixture : Fixture
        As in the header.
    """

    def __init__(
        self,
        button: Button | None,
        sheet: of_model.ModelSheet,
        fixture: Fixture,
        hub: Hub,
        clock: SoakClock,
    ) -> None:
        self._told = sheet.button or _NO_BUTTON
        self._button = None if sheet.button is None else button
        self._sheet = sheet
        self._hub = hub
        self._clock = clock
        self._sees = bool(fixture.capture)
        self._by_hand = fixture.button is not None and fixture.button.by_hand
        self._current = next(
            (
                f"probe.{name}"
                for name, wired in fixture.probes.items()
                if wired.unit == "A" and not wired.at_port
            ),
            "",
        )
        self._pressing = trio.Lock()
        self._power_came = trio.Event()
        self.powered = self.awake = False
        self.unsettled = False
        """Whether it stands pressed off with its power on, or nobody knows what a press did."""
        self._on_s = self._off_s = self._pressed_s = -math.inf
        self._started: Mark | None = None
        self.stops = self._button is not None and self._told.stops

    def notice(self, record: Observed) -> None:
        """Take every record: whether the unit has power, and whether it runs."""
        if power := fact_in(record, PowerChanged):
            self._notice_power(power.on, record.t_s)
        elif isinstance(record, State) and record.source == "capture" and self.powered:
            seen = record.state == PICTURE and not self.unsettled
            self.awake = self.awake or seen

    def _notice_power(self, on: bool, t_s: float) -> None:
        if on and not self.powered:
            self._on_s = t_s
            self.awake = not self._told.stays_off
            self._power_came.set()
        elif not on:
            self._off_s = t_s
            self._started = None
            self._power_came = trio.Event()
            self.awake = self.unsettled = False
        self.powered = on

    async def wake(
        self, why: str, stretch: str = "", check: str = "", *, anyway: bool = False
    ) -> Mark | None:
        """Press a unit that stays off when power comes back; None where that is not needed.

        With `anyway` also one that should have started by itself. Where somebody else has pressed
        since the power came, the mark of that press.
        """
        if self._button is None or not (self._told.stays_off or anyway):
            return None
        after_s = self._told.start_after_s
        await trio.sleep(after_s)
        # A check and the guard's re-arming may both want it on: pressed twice it is off again.
        async with self._pressing:
            # What was cut meanwhile waits for the next power, and for its time after that.
            if not await self._has_power():
                return None
            await trio.sleep(max(0.0, self._on_s + after_s - self._clock.now_s()))
            if await self._runs() and not anyway:
                return self._started
            if anyway and await self._comes_by_itself():
                return None  # the guard gave it power anew meanwhile; a press would stop it
            if not self.powered:
                return None
            mark = await self._press("start", why, stretch, check)
            self.awake = self.powered
            self._started = mark if self.powered else None
            return mark

    async def _comes_by_itself(self) -> bool:
        """Tell whether it shows a picture by the time it should, counted from its last power."""
        remains_s = self._on_s + patient_start_limit_s(self._sheet) - self._clock.now_s()
        if remains_s > 0:
            await self._capture({PICTURE}, remains_s)
        return self._is_shown()

    async def soft_stop(self, why: str, stretch: str = "", check: str = "") -> Mark | None:
        """Press it off and return once it is, or its time is over: the mark `soft stop`.

        None where nothing presses, the button does not stop this model, or it does not run.
        """
        async with self._pressing:
            if not self.stops or not await self._runs():
                await self.settle()
                return None
            before_a = self._reads()
            shown = self._is_shown()
            pressed_s = _pressed_s(await self._press("stop", why, stretch, check))
            self.awake = False
        limit_s = self._told.stop_limit_s
        ended, by = await self._seen_off(before_a, shown, limit_s)
        if self._off_s >= pressed_s:
            ended = None  # the guard has cut it meanwhile, and that is what was seen
            by = ""
        now_s = self._clock.now_s()
        after_s = round(now_s - pressed_s, 3)
        fact = SoftStop(ended=ended, by=by, after_s=after_s, limit_s=limit_s, why=why)
        mark = mark_of(now_s, fact, stretch, check)
        self._hub.publish(mark)
        return mark

    async def settle(self) -> bool:
        """Let a stop that nobody saw to its end come to it; tell whether the power must go now.

        A stretch may be ended amid a press: nobody knows then whether the unit runs, and only off
        and on again makes it known.
        """
        if not (self.unsettled and self.powered):
            return False
        until_s = self._pressed_s + self._told.stop_limit_s
        left_s = max(0.0, until_s - self._clock.now_s())
        if not self._sees:
            await trio.sleep(left_s)
        elif await self._capture(DARK, left_s):
            await trio.sleep(self._told.after_dark_s)
        return True

    async def _has_power(self) -> bool:
        """Tell whether the unit has power; the word of it may come a little after the power."""
        with trio.move_on_after(_TOLD_WITHIN_S):
            if not self.powered:
                await self._power_came.wait()
        return self.powered

    async def _runs(self) -> bool:
        """Tell whether it runs, also one that stays off and went on through a short break.

        The picture from before a break is waited for to go: then the unit went, too.
        """
        state = self._hub.state("capture")
        through = self.powered and self._sees and not self.unsettled
        if not self.awake and through and state is not None and state.state == PICTURE:
            left_s = max(0.0, self._on_s + SHOWS_WITHIN_S - self._clock.now_s())
            gone = await self._first(
                "capture", lambda one: isinstance(one, State) and one.state != PICTURE, left_s
            )
            self.awake = self.awake or (self.powered and not gone)
        return self.awake

    async def _press(self, does: Does, why: str, stretch: str, check: str) -> Mark:
        """Press until it was surely pressed once; what a lost adapter leaves open is looked for.

        A stop is on record before it is pressed, for from then on nothing is charged to the unit; a
        start once it was pressed, for until then nothing is expected of it.
        """
        assert self._button is not None
        held_s = self._told.stop_held_s if does == "stop" else self._told.start_held_s
        from_s = round(self._clock.now_s(), 3)
        fact = ButtonPressed(does=does, held_s=held_s, from_s=from_s, why=why)
        self.unsettled = True
        self._pressed_s = from_s

        def on_record(doubtful: bool) -> Mark:
            now_s = self._clock.now_s()
            begun_s = from_s
            if self._by_hand and does == "start":
                # Asked long before it is done; confirmed at once, as by a switch worked by hand.
                begun_s = round(max(from_s, now_s - held_s), 3)
            pressed = replace(fact, from_s=begun_s, doubtful=doubtful)
            mark = mark_of(now_s, pressed, stretch, check)
            self._hub.publish(mark)
            return mark

        mark = on_record(False) if does == "stop" else None
        doubtful = False
        while True:
            try:
                await self._button.press(held_s)
                break
            except BenchFault as fault:
                doubtful = True
                await well_again(
                    "button", fault, self._button.release, hub=self._hub, clock=self._clock
                )
                if await self._came_of_it(does):
                    break  # pressed after all: once more would undo it
        self.unsettled = does == "stop" and self.powered
        return on_record(doubtful) if mark is None or doubtful else mark

    async def _came_of_it(self, does: Does) -> bool:
        """Tell whether a press nobody answered did what it was for.

        Yes where nothing can see, but for a hand: nobody's answer is no press.
        """
        if not self._sees:
            return not self._by_hand
        if does == "stop":
            return await self._capture(DARK, self._told.stop_limit_s)
        return await self._capture({PICTURE}, patient_start_limit_s(self._sheet))

    async def _seen_off(
        self, before_a: float | None, shown: bool, limit_s: float
    ) -> tuple[bool | None, str]:
        """Return whether it was seen to go off, None if nothing could see, and by what.

        A picture that was not there before the press (`shown` false) proves nothing by being away.
        """
        by: list[str] = []
        since_s = self._clock.now_s()
        if not shown and not before_a:
            await trio.sleep(limit_s)  # unseen, it gets all the time it may need
            return None, ""
        with trio.move_on_after(limit_s):
            if shown and await self._capture(DARK, limit_s):
                by.append("capture")
            if before_a and (by or not shown):
                await self._current_falls(CURRENT_SHARE * before_a)
                return True, ", ".join([*by, self._current])
        drawn_a = self._reads(since_s) if before_a else None
        if by and drawn_a is None:
            # The picture goes first; what is still written then shows only in the current.
            await trio.sleep(self._told.after_dark_s)
            return True, "capture"
        state = self._hub.state("capture")
        if by or (shown and state is not None and shows_off(state.state) is not None):
            return False, ", ".join(by)
        # The capture went blind meanwhile: what is left is the current, or nothing.
        if drawn_a is None or before_a is None:
            return None, ""
        fell = drawn_a < CURRENT_SHARE * before_a
        return fell, self._current if fell else ""

    def _is_shown(self) -> bool:
        """Tell whether the capture sees a picture of the unit now."""
        state = self._hub.state("capture")
        return self._sees and state is not None and state.state in ALIVE

    async def _capture(self, wanted: Collection[str], limit_s: float) -> bool:
        return await self._first(
            "capture", lambda one: isinstance(one, State) and one.state in wanted, limit_s
        )

    async def _current_falls(self, below_a: float) -> None:
        def low(one: State | Reading) -> bool:
            return isinstance(one, Reading) and one.value < below_a

        await self._first(self._current, low, float("inf"))

    async def _first(
        self, source: str, wanted: Callable[[State | Reading], bool], limit_s: float
    ) -> bool:
        with trio.move_on_after(limit_s):
            async with aclosing(cast(Any, self._hub.follow(source))) as records:
                async for record in records:
                    if wanted(record):
                        return True
        return False

    def _reads(self, since_s: float = -math.inf) -> float | None:
        """Return the supply current read last, A; None where nothing has measured it since."""
        state = self._hub.state(self._current)
        reading = self._hub.reading(self._current)
        blind = state is not None and state.state == BLIND
        return None if reading is None or blind or reading.t_s < since_s else reading.value


def _pressed_s(mark: Mark) -> float:
    pressed = fact_in(mark, ButtonPressed)
    assert pressed is not None
    return pressed.from_s
