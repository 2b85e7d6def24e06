"""Servo: a board commanded by text moves a plug of the unit in place of the operator's hand."""

import re
from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from itertools import cycle
from typing import Annotated, Literal

import trio
from pydantic import BeforeValidator, Field

from soak.allowed import Takes
from soak.bench.registry import Tools, driver
from soak.bench.serial.port import open_port
from soak.bench.serial.text_talk import Pattern, Said, TextPort, TextTalk
from soak.errors import BenchFault, Mistake
from soak.frozen.wiring import Claim, ServoWired
from soak.mistakes import fit
from soak.records import Json
from soak.roles import Movement
from soak.settings import Seconds
from soak.words import msg

_BACK_TO_REST_S = 30.0
"""Going back to rest is tried for so long whatever else ends, s. Our own choice."""


def _several(value: object) -> object:
    return [value] if isinstance(value, str) else value


Positions = Annotated[
    Sequence[Said],
    BeforeValidator(_several),
    Field(min_length=1),
    Takes(msg("text, or a list of texts")),
]
"""One position, or several that are gone through one after another."""


class SerialServo(ServoWired, TextTalk):
    """Settings of a servo that moves a plug.

    Attributes
    ----------
    move : str
        What is sent; `{position}` stands for a position of below.
    move_answer : str
        Regular expression that the whole answer must match; `{position}` as above. Empty: the
        board never answers.
    rest : str or list of str
        Where the plug is left alone; several axes take several.
    positions : mapping of movement to str or list of str
        For each movement it can make: one position, held; or several, gone through again and
        again (`twist = ["70", "110"]`).
    step_s : float
        From one position to the next, s.
    """

    driver: Literal["serial_servo"]
    move: Said = Field(min_length=1)
    move_answer: Pattern = ""
    rest: Positions
    positions: Mapping[Movement, Positions] = Field(min_length=1)
    step_s: Seconds = Field(default=1.0, ge=0.2, le=60)

    @fit
    def _goes_somewhere(self) -> Iterator[Mistake]:
        if "{position}" not in self.move:
            yield Mistake("", msg("move says no {{position}}; every movement would be the same"))
        if self.move_answer and not self.line_end:
            yield Mistake("", msg("an answer is only read up to a line end; give line_end"))
        same = [name for name, place in self.positions.items() if list(place) == list(self.rest)]
        if same:
            yield Mistake(
                "",
                msg("positions.{same} is where the plug rests: nothing would move", same=same[0]),
            )

    def claims(self) -> Sequence[Claim]:
        return (Claim(self.port, f"servo by {self.move}"),)


def answer_to(wired: SerialServo, position: str) -> str:
    """Return the pattern of the answer to a move; empty if none is given."""
    return wired.move_answer.replace("{position}", re.escape(position))


class TextServo:
    """Moves a plug; at rest whenever it does not."""

    def __init__(self, name: str, wired: SerialServo, port: TextPort) -> None:
        self._name = name
        self._wired = wired
        self._port = port
        self._at_rest = False

    @property
    def identity(self) -> Json:
        answers = bool(self._wired.move_answer)
        return {"driver": self._wired.driver, **self._port.identity, "answers": answers}

    async def move(self, movement: Movement, lasts_s: float) -> None:
        """Move the plug that way for `lasts_s` s and go back to rest, whatever happens meanwhile.

        Raises
        ------
        BenchFault
            If it cannot move that way, was not answered, or the port has vanished.
        """
        if movement not in self._wired.positions:
            raise BenchFault(
                self._name,
                msg("has no position for {movement} in its fixture", movement=repr(movement)),
            )
        ends_s = trio.current_time() + lasts_s
        try:
            self._at_rest = False
            await self._go_through(self._wired.positions[movement], ends_s)
        except BaseException:
            with trio.move_on_after(_BACK_TO_REST_S, shield=True), suppress(BenchFault):
                await self.rest()
            raise
        with trio.CancelScope(shield=True):
            await self.rest()

    async def _go_through(self, positions: Sequence[str], ends_s: float) -> None:
        for position in cycle(positions):
            await self._to(position)
            step_s = self._wired.step_s if len(positions) > 1 else ends_s
            await trio.sleep_until(min(trio.current_time() + step_s, ends_s))
            if trio.current_time() >= ends_s:
                return

    async def rest(self) -> None:
        """Go to rest, axis by axis.

        Raises
        ------
        BenchFault
            If it was not answered, or the port has vanished.
        """
        for position in self._wired.rest:
            await self._to(position)
        self._at_rest = True

    async def _to(self, position: str) -> None:
        text = self._wired.move.replace("{position}", position)
        await self._port.say(
            msg("to {position}", position=position), text, answer_to(self._wired, position)
        )

    async def aclose(self) -> None:
        """Go to rest and let go of the port."""
        at_rest = self._at_rest
        self._at_rest = True  # tried once: twice is safe
        try:
            if not at_rest:
                await self.rest()
        finally:
            await self._port.aclose()


@driver("servo", "serial_servo", SerialServo)
async def open_serial_servo(name: str, wired: SerialServo, tools: Tools) -> TextServo:
    """Open the port and go to rest."""
    port = await open_port(name, wired, tools, speaks="text")
    servo = TextServo(name, wired, TextPort(name, wired, port))
    try:
        await servo.rest()
    except BaseException:
        await port.aclose()
        raise
    return servo
