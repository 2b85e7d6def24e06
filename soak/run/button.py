"""The unit's own power button: off in order before the power is cut, and on where it stays off."""

from collections.abc import Callable
from contextlib import aclosing
from typing import Any, Literal, cast

import trio

from soak.clock import SoakClock
from soak.errors import BenchFault
from soak.records import BLIND, PROTECTED, Json, Mark, Observed, Reading, State
from soak.roles import Button
from soak.run.hub import Hub
from soak.run.lost import well_again

CURRENT_SHARE = 0.5
"""Off in order it draws less than this share of what it drew before the press. Half, as for a
contact under test in IEC 60512-2-5; that it fits a unit in standby is our own choice."""

_DARK = ("no signal", "black")
_ALIVE = ("picture", "frozen", "other size", PROTECTED)
_UNSEEN = (BLIND, "stalled")

Does = Literal["start", "stop"]


class PowerButton:
    """Press the button as the model sheet says, and see what comes of it.

    Parameters
    ----------
    button : Button or None
        What presses; None where none is wired: then nothing is ever pressed.
    sheet, fixture : Json
        As in the header.
    """

    def __init__(
        self, button: Button | None, sheet: Json, fixture: Json, hub: Hub, clock: SoakClock
    ) -> None:
        self._told: Json = sheet.get("button") or {}
        self._button = button if self._told else None
        self._sheet, self._hub, self._clock = sheet, hub, clock
        self._sees = bool(fixture.get("capture"))
        self._current = next(
            (
                f"probe.{name}"
                for name, wired in fixture.get("probe", {}).items()
                if wired.get("unit") == "A" and not wired.get("at_port")
            ),
            "",
        )
        self._pressing = trio.Lock()
        self.powered = self.awake = False
        self.stops = self._button is not None and bool(self._told["stops"])

    def notice(self, record: Observed) -> None:
        """Take every record: whether the unit has power, and whether it runs."""
        if isinstance(record, Mark) and record.what == "power":
            self.powered = bool(record.detail["on"])
            self.awake = self.powered and (self.awake or not self._told.get("stays_off"))
        elif isinstance(record, State) and record.source == "capture" and self.powered:
            self.awake = self.awake or record.state == "picture"

    async def wake(
        self, why: str, stretch: str = "", check: str = "", *, anyway: bool = False
    ) -> Mark | None:
        """Press a unit that stays off when power comes back; None where that is not needed.

        With `anyway` also one that should have started by itself.
        """
        if self._button is None or not (self._told["stays_off"] or anyway):
            return None
        await trio.sleep(float(self._told["start_after_s"]))
        # A check and the guard's re-arming may both want it on: pressed twice it is off again.
        async with self._pressing:
            if self.awake and not anyway:
                return None
            mark = await self._press("start", why, stretch, check)
            self.awake = True
            return mark

    async def soft_stop(self, why: str, stretch: str = "", check: str = "") -> Mark | None:
        """Press it off and return once it is, or its time is over: the mark `soft stop`.

        None where nothing presses, the button does not stop this model, or it does not run.
        """
        async with self._pressing:
            if not self.stops or not self.awake:
                return None
            before_a, shown = self._ampere(), self._is_shown()
            pressed = await self._press("stop", why, stretch, check)
            self.awake = False
        limit_s = float(self._told["stop_limit_s"])
        ended, by = await self._seen_off(before_a, shown, limit_s)
        now_s = self._clock.now_s()
        after_s = round(now_s - float(pressed.detail["from_s"]), 3)
        detail = {"ended": ended, "by": by, "after_s": after_s, "limit_s": limit_s, "why": why}
        mark = Mark(now_s, "soft stop", stretch, check, detail)
        self._hub.publish(mark)
        return mark

    async def _press(self, does: Does, why: str, stretch: str, check: str) -> Mark:
        """Press until it was surely pressed once; what a lost adapter leaves open is looked for.

        A stop is on record before it is pressed, for from then on nothing is charged to the unit; a
        start once it was pressed, for until then nothing is expected of it.
        """
        assert self._button is not None
        held_s, from_s = float(self._told[f"{does}_held_s"]), round(self._clock.now_s(), 3)
        told = {"does": does, "held_s": held_s, "from_s": from_s, "why": why}

        def on_record(doubtful: bool) -> Mark:
            detail = {**told, "doubtful": doubtful}
            mark = Mark(self._clock.now_s(), "button", stretch, check, detail)
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
                await well_again("button", fault, self._button.release, self._hub, self._clock)
                if await self._came_of_it(does):
                    break  # pressed after all: once more would undo it
        return on_record(doubtful) if mark is None or doubtful else mark

    async def _came_of_it(self, does: Does) -> bool:
        """Tell whether a press nobody answered did what it was for; yes where nothing can see."""
        if not self._sees:
            return True
        if does == "stop":
            return await self._capture(_DARK, float(self._told["stop_limit_s"]))
        start_s = float(self._sheet.get("start_s") or 0.0)
        return await self._capture(
            ("picture",), self._sheet.get("start_limit_s") or 2 * start_s + 10
        )

    async def _seen_off(
        self, before_a: float | None, shown: bool, limit_s: float
    ) -> tuple[bool | None, str]:
        """Return whether it was seen to go off, None if nothing could see, and by what.

        A picture that was not there before the press (`shown` false) proves nothing by being away.
        """
        by: list[str] = []
        if not shown and not before_a:
            await trio.sleep(limit_s)  # unseen, it gets all the time it may need
            return None, ""
        with trio.move_on_after(limit_s):
            if shown and await self._capture(_DARK, limit_s):
                by.append("capture")
            if before_a and (by or not shown):
                await self._current_falls(CURRENT_SHARE * before_a)
                by.append(self._current)
        dark, fell = "capture" in by, self._current in by and bool(self._current)
        if dark and not before_a:
            # The picture goes first; what is still written then shows only in the current.
            await trio.sleep(float(self._told["after_dark_s"]))
        if (dark or not shown) and (fell or (dark and not before_a)):
            return True, ", ".join(by)
        state = self._hub.state("capture")
        unseen = not before_a and (state is None or state.state in _UNSEEN)
        return (None if unseen else False), ", ".join(by)

    def _is_shown(self) -> bool:
        """Tell whether the capture sees a picture of the unit now."""
        state = self._hub.state("capture")
        return self._sees and state is not None and state.state in _ALIVE

    async def _capture(self, wanted: tuple[str, ...], limit_s: float) -> bool:
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

    def _ampere(self) -> float | None:
        """Return the supply current now, A; None where no probe measures it or it sees nothing."""
        state, reading = self._hub.state(self._current), self._hub.reading(self._current)
        blind = state is not None and state.state == BLIND
        return None if reading is None or blind or reading.value <= 0 else reading.value
