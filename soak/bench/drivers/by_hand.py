"""By hand: the operator switches the plug, presses the power button, or reads a thermometer."""

from collections.abc import AsyncIterator
from itertools import count
from typing import Literal

import trio
from pydantic import Field

from soak.bench.probe_settings import Pace, Polled
from soak.bench.readings import Refused, watched
from soak.bench.registry import Tools, driver
from soak.errors import BenchFault
from soak.frozen.wiring import ButtonWired, SwitchWired
from soak.natures import Nature
from soak.quantities import show_duration
from soak.records import Json, Reading, State
from soak.roles import Ask, Question
from soak.settings import Seconds


class HandSwitch(SwitchWired):
    """Settings of a switch that the operator is.

    Attributes
    ----------
    text : str
        What is switched, `"the wall socket of bench 2"`.
    wait_s : float
        How long the operator has, s.
    """

    driver: Literal["by_hand"]
    text: str = "the unit's power"
    wait_s: Seconds = Field(default=600.0, gt=0)


class HandButton(ButtonWired):
    """Settings of a button that the operator presses.

    Attributes
    ----------
    text : str
        What is pressed, `"the button on the front"`.
    wait_s : float
        How long the operator has, s.
    """

    driver: Literal["by_hand"]
    text: str = "the unit's power button"
    wait_s: Seconds = Field(default=600.0, gt=0)


class HandProbe(Polled):
    """Settings of a probe that the operator reads.

    Attributes
    ----------
    text : str
        What is read, `"the thermometer taped to the heatsink"`.
    every_s : float
        Time from one question to the next, s.
    lowest : float
        A number below it is a typing mistake, in `unit`.
    highest : float
        A number above it is a typing mistake, in `unit`.
    infrared : bool
        Whether it is an infrared thermometer: the question then warns of shiny metal.
    photograph : bool
        Whether the question says that a photograph of the spot may come with the reading.
    """

    driver: Literal["by_hand"]
    text: str = Field(min_length=1)
    every_s: Seconds = Field(default=900.0, ge=10)
    silent_after_s: Seconds = Field(default=3600.0, gt=0)
    lowest: float = -40.0
    highest: float = 250.0
    infrared: bool = False
    photograph: bool = False


def parse(answer: object, wired: HandProbe) -> float:
    """Return the number the operator gave.

    Raises
    ------
    Refused
        If nobody answered, or it is no number or an unlikely one.
    """
    if answer is None:
        raise Refused("nobody answered")
    if isinstance(answer, bool) or not isinstance(answer, int | float):
        raise Refused(f"{str(answer)[:60]!r} is not a number")
    if not wired.lowest <= answer <= wired.highest:
        raise Refused(f"{answer:g} {wired.unit} lies outside {wired.lowest:g} to {wired.highest:g}")
    return float(answer)


WARMEST_ROOM_DEGC = 45.0
"""A room that is read as warmer is asked about again, degC. Our own choice."""
EARLY_S, WARM_WHEN_EARLY_DEGC = 300.0, 59.0
"""A spot reads no more at the beginning: 59 °F is 15 °C, a cool room. Our own choice."""
LEAP_K, LIKE_BEFORE_K = 15.0, 5.0
"""A reading that leaps so far, and in Fahrenheit were so near the one before, is asked for again.
Our own choice: a wrong yes costs one more question, a wrong no a night."""


def doubt(degc: float, wired: HandProbe, before_degc: float | None, now_s: float) -> str:
    """Say why a reading looks like Fahrenheit; empty if it does not.

    Parameters
    ----------
    degc : float
        What was typed, taken as degC.
    before_degc : float or None
        The reading before; None for the first.
    now_s : float
        Soak time, s.
    """
    if wired.unit != "degC":
        return ""
    as_degf = (degc - 32) / 1.8
    if wired.spot == "ambient":
        odd = degc > WARMEST_ROOM_DEGC
    elif before_degc is not None:
        odd = degc - before_degc > LEAP_K and abs(as_degf - before_degc) < LIKE_BEFORE_K
    else:
        odd = now_s < EARLY_S and WARM_WHEN_EARLY_DEGC <= degc <= WARM_WHEN_EARLY_DEGC + 45
    return f"{degc:g} degC? If it shows Fahrenheit that is {as_degf:.1f} degC" if odd else ""


SHINY = (
    "Infrared reads bare metal wrong, polished metal of 80 °C as 32 °C: read paper tape or matt "
    "paint on it."
)
"""Worked for a grey body of emissivity 0.10, thermometer set to 0.95, room 25 °C."""

PICTURED = "A photograph of the spot may go with it: write its file after the number."

BRIEF_S = 1.5
"""A press shorter than that is called brief. Our own choice."""

PATIENCE = 16
"""A question that nobody answers comes half as often each time, down to a sixteenth: whoever sleeps
is not woken, and finds one question in the morning. Our own choice."""


def undone(question: Question, answer: object, what: str) -> str:
    """Say that nobody did what was asked; empty where the operator says that it is done."""
    if question.agreed(answer):
        return ""
    if answer is None:
        return f"nobody {what} within {show_duration(question.wait_s)}"
    return f"the operator did not say that anybody {what}"


class SwitchByHand:
    """Asks the operator to switch; the capture confirms whether it was done."""

    def __init__(self, name: str, wired: HandSwitch, ask: Ask) -> None:
        self._name = name
        self._wired = wired
        self._ask = ask
        self._numbers = count(1)

    @property
    def identity(self) -> Json:
        return {"driver": self._wired.driver, "nature": Nature.HAND, "text": self._wired.text}

    async def command(self, channel: str, on: bool) -> None:
        """Ask, and return when the operator says that it is done.

        Raises
        ------
        BenchFault
            If nobody answered.
        """
        word = "on" if on else "off"
        question = Question(
            id=f"{self._name}.{next(self._numbers)}.{word}",
            text=f"Switch {self._wired.text} {word} now (channel {channel}), then confirm.",
            expects="done",
            wait_s=self._wired.wait_s,
        )
        what = f"switched {self._wired.text} {word}"
        if why := undone(question, await self._ask(question), what):
            raise BenchFault(self._name, f"{why}; do it by hand now")

    async def aclose(self) -> None:
        await trio.lowlevel.checkpoint()


class ButtonByHand:
    """Asks the operator to press."""

    def __init__(self, name: str, wired: HandButton, ask: Ask) -> None:
        self._name = name
        self._wired = wired
        self._ask = ask
        self._numbers = count(1)

    @property
    def identity(self) -> Json:
        return {"driver": self._wired.driver, "nature": Nature.HAND, "text": self._wired.text}

    async def press(self, held_s: float) -> None:
        """Ask, and return when the operator says that it is done.

        Raises
        ------
        BenchFault
            If nobody answered.
        """
        held = "briefly" if held_s < BRIEF_S else f"for {show_duration(held_s)}"
        text = f"Press {self._wired.text} {held}, let go, then confirm at once."
        number = next(self._numbers)
        wait_s = self._wired.wait_s
        question = Question(f"{self._name}.{number}", text, "done", wait_s=wait_s)
        if why := undone(question, await self._ask(question), f"pressed {self._wired.text}"):
            raise BenchFault(self._name, why)

    async def release(self) -> None:
        """Do nothing: a hand that is asked nothing presses nothing."""
        await trio.lowlevel.checkpoint()

    async def aclose(self) -> None:
        await trio.lowlevel.checkpoint()


class ProbeByHand:
    """Asks the operator for a reading now and then."""

    def __init__(self, name: str, wired: HandProbe, ask: Ask) -> None:
        self._name = name
        self._wired = wired
        self._ask = ask
        self._numbers = count(1)
        self._pace = Pace(wired.every_s)
        self._patience = 1
        self._left_out = 0
        self._before: float | None = None

    @property
    def identity(self) -> Json:
        return {"driver": self._wired.driver, "nature": Nature.HAND, "text": self._wired.text}

    def readings(self) -> AsyncIterator[Reading | State]:
        return watched(self._name, self._wired.silent_after_s, self._take)

    async def _take(self) -> float | None:
        await self._pace.next()
        if self._left_out > 0:
            self._left_out -= 1
            return None
        answer = await self._ask(self._question(next(self._numbers)))
        if answer is None:
            self._left_out, self._patience = self._patience - 1, min(2 * self._patience, PATIENCE)
        else:
            self._patience = 1
        value = parse(answer, self._wired)
        why = doubt(value, self._wired, self._before, trio.current_time())
        if why:
            value = parse(await self._ask(self._question(next(self._numbers), why)), self._wired)
        self._before = value
        return value

    def _question(self, number: int, why: str = "") -> Question:
        """Ask for a reading, or once more for one that looks wrong."""
        wired = self._wired
        if why:
            again = f"{why}. Read {wired.text} again: how many {wired.unit}?"
            wait_s = wired.every_s
            return Question(
                f"{self._name}.{number}", again, "number", unit=wired.unit, wait_s=wait_s
            )
        spot = f" at {wired.spot!r}" if wired.spot else ""
        when = show_duration(trio.current_time())
        warning = f" {SHINY}" if wired.infrared else ""
        warning += f" {PICTURED}" if wired.photograph else ""
        return Question(
            id=f"{self._name}.{number}",
            text=f"{when} into the soak: read {wired.text}{spot}: how many {wired.unit}?{warning}",
            expects="number",
            unit=wired.unit,
            wait_s=wired.every_s,
            photograph="may" if wired.photograph else "",
        )

    async def aclose(self) -> None:
        await trio.lowlevel.checkpoint()


@driver("switch", "by_hand", HandSwitch)
async def open_switch_by_hand(name: str, wired: HandSwitch, tools: Tools) -> SwitchByHand:
    """Take the operator as the switch; nothing is asked yet."""
    return SwitchByHand(name, wired, tools.ask)


@driver("button", "by_hand", HandButton)
async def open_button_by_hand(name: str, wired: HandButton, tools: Tools) -> ButtonByHand:
    """Take the operator as what presses; nothing is asked yet."""
    return ButtonByHand(name, wired, tools.ask)


@driver("probe", "by_hand", HandProbe)
async def open_probe_by_hand(name: str, wired: HandProbe, tools: Tools) -> ProbeByHand:
    """Take the operator as the thermometer; the first question comes with the readings."""
    return ProbeByHand(name, wired, tools.ask)
