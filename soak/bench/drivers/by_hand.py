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
from soak.records import Json, Reading, State
from soak.roles import Ask, Question
from soak.settings import Seconds
from soak.words import NOTHING_SAID, Amount, Message, Number, just, msg, paragraph

_POWER = msg("the unit's power")
_BUTTON = msg("the unit's power button")
_KNOWN = {str(sentence): sentence for sentence in (_POWER, _BUTTON)}


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
    text: str = str(_POWER)
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
    text: str = str(_BUTTON)
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
        raise Refused(msg("nobody answered"))
    if isinstance(answer, bool) or not isinstance(answer, int | float):
        raise Refused(msg("{answer} is not a number", answer=repr(str(answer)[:60])))
    if not wired.lowest <= answer <= wired.highest:
        raise Refused(
            msg(
                "{value} {unit} lies outside {lowest} to {highest}",
                value=Number(answer, "g"),
                unit=wired.unit,
                lowest=Number(wired.lowest, "g"),
                highest=Number(wired.highest, "g"),
            )
        )
    return float(answer)


WARMEST_ROOM_DEGC = 45.0
"""A room that is read as warmer is asked about again, degC. Our own choice."""
EARLY_S, WARM_WHEN_EARLY_DEGC = 300.0, 59.0
"""A spot reads no more at the beginning: 59 °F is 15 °C, a cool room. Our own choice."""
LEAP_K, LIKE_BEFORE_K = 15.0, 5.0
"""A reading that leaps so far, and in Fahrenheit were so near the one before, is asked for again.
Our own choice: a wrong yes costs one more question, a wrong no a night."""


def doubt(degc: float, wired: HandProbe, before_degc: float | None, now_s: float) -> Message:
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
        return NOTHING_SAID
    as_degf = (degc - 32) / 1.8
    if wired.spot == "ambient":
        odd = degc > WARMEST_ROOM_DEGC
    elif before_degc is not None:
        odd = degc - before_degc > LEAP_K and abs(as_degf - before_degc) < LIKE_BEFORE_K
    else:
        odd = now_s < EARLY_S and WARM_WHEN_EARLY_DEGC <= degc <= WARM_WHEN_EARLY_DEGC + 45
    if not odd:
        return NOTHING_SAID
    return msg(
        "{read} degC? If it shows Fahrenheit that is {degc} degC.",
        read=Number(degc, "g"),
        degc=Number(as_degf, ".1f"),
    )


SHINY = msg(
    "Infrared reads bare metal wrong, polished metal of 80 °C as 32 °C: read paper tape or matt "
    "paint on it."
)
"""Worked for a grey body of emissivity 0.10, thermometer set to 0.95, room 25 °C."""

PICTURED = msg("A photograph of the spot may go with it: write its file after the number.")

BRIEF_S = 1.5
"""A press shorter than that is called brief. Our own choice."""

PATIENCE = 16
"""A question that nobody answers comes half as often each time, down to a sixteenth: whoever sleeps
is not woken, and finds one question in the morning. Our own choice."""


def not_switched(what: Message, question: Question, *, on: bool, answer: object) -> Message:
    """Say that nobody switched as asked."""
    within = Amount(question.wait_s, "s")
    if on:
        return (
            msg("nobody switched {what} on within {time}", what=what, time=within)
            if answer is None
            else msg("the operator did not say that anybody switched {what} on", what=what)
        )
    return (
        msg("nobody switched {what} off within {time}", what=what, time=within)
        if answer is None
        else msg("the operator did not say that anybody switched {what} off", what=what)
    )


def not_pressed(what: Message, question: Question, answer: object) -> Message:
    """Say that nobody pressed as asked."""
    if answer is None:
        return msg(
            "nobody pressed {what} within {time}", what=what, time=Amount(question.wait_s, "s")
        )
    return msg("the operator did not say that anybody pressed {what}", what=what)


def called(text: str) -> Message:
    """Return what is switched, pressed or read as it is called: by its file, or by default."""
    return _KNOWN.get(text) or just(text)


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
        what = called(self._wired.text)
        if on:
            text = msg(
                "Switch {what} on now (channel {channel}), then confirm.",
                what=what,
                channel=channel,
            )
        else:
            text = msg(
                "Switch {what} off now (channel {channel}), then confirm.",
                what=what,
                channel=channel,
            )
        question = Question(
            id=f"{self._name}.{next(self._numbers)}.{'on' if on else 'off'}",
            text=text,
            expects="done",
            wait_s=self._wired.wait_s,
        )
        answer = await self._ask(question)
        if not question.agreed(answer):
            why = not_switched(what, question, on=on, answer=answer)
            raise BenchFault(self._name, msg("{why}; do it by hand now", why=why))

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
        what = called(self._wired.text)
        if held_s < BRIEF_S:
            text = msg("Press {what} briefly, let go, then confirm at once.", what=what)
        else:
            text = msg(
                "Press {what} for {time}, let go, then confirm at once.",
                what=what,
                time=Amount(held_s, "s"),
            )
        number = next(self._numbers)
        wait_s = self._wired.wait_s
        question = Question(f"{self._name}.{number}", text, "done", wait_s=wait_s)
        answer = await self._ask(question)
        if not question.agreed(answer):
            raise BenchFault(self._name, not_pressed(what, question, answer))

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
            self._left_out = self._patience - 1
            self._patience = min(2 * self._patience, PATIENCE)
        else:
            self._patience = 1
        value = parse(answer, self._wired)
        why = doubt(value, self._wired, self._before, trio.current_time())
        if why:
            value = parse(await self._ask(self._question(next(self._numbers), why)), self._wired)
        self._before = value
        return value

    def _question(self, number: int, why: Message = NOTHING_SAID) -> Question:
        """Ask for a reading, or once more for one that looks wrong."""
        wired = self._wired
        if why:
            again = paragraph(
                why,
                msg("Read {what} again: how many {unit}?", what=wired.text, unit=wired.unit),
            )
            wait_s = wired.every_s
            return Question(
                f"{self._name}.{number}", again, "number", unit=wired.unit, wait_s=wait_s
            )
        return Question(
            id=f"{self._name}.{number}",
            text=paragraph(
                self._asks(),
                SHINY if wired.infrared else None,
                PICTURED if wired.photograph else None,
            ),
            expects="number",
            unit=wired.unit,
            wait_s=wired.every_s,
            photograph="may" if wired.photograph else "",
        )

    def _asks(self) -> Message:
        wired = self._wired
        now = Amount(trio.current_time(), "s")
        if not wired.spot:
            return msg(
                "{time} into the soak: read {what}: how many {unit}?",
                time=now,
                what=wired.text,
                unit=wired.unit,
            )
        return msg(
            "{time} into the soak: read {what} at {spot}: how many {unit}?",
            time=now,
            what=wired.text,
            spot=repr(wired.spot),
            unit=wired.unit,
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
