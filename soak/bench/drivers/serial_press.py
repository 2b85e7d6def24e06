"""Button: a servo or relay on a board commanded by text presses the unit's own power button.

A relay across the button's contacts does as well as a servo arm on its cap; a relay shares no
potential with the unit.
"""

from collections.abc import Iterator, Sequence
from contextlib import suppress
from typing import Literal

import trio
from pydantic import Field

from soak.bench.registry import Tools, driver
from soak.bench.serial.port import open_port
from soak.bench.serial.text_talk import Pattern, Said, TextPort, TextTalk
from soak.errors import BenchFault, Mistake
from soak.frozen.wiring import ButtonWired, Claim
from soak.mistakes import fit
from soak.records import Json
from soak.words import msg

_LETTING_GO_S = 30.0
"""Letting go is tried for so long whatever else ends, s; then whoever asked is told. Our own
choice."""


class SerialPress(ButtonWired, TextTalk):
    """Settings of a button that a board presses.

    Attributes
    ----------
    press : str
        What is sent to press. It must set a state, not toggle it.
    release : str
        What is sent to let go. It must set a state, not toggle it.
    press_answer : str
        Regular expression that the whole answer to `press` must match; empty: the board
        never answers.
    release_answer : str
        Regular expression that the whole answer to `release` must match; empty: the board
        never answers.
    """

    driver: Literal["serial_press"]
    press: Said = Field(min_length=1)
    release: Said = Field(min_length=1)
    press_answer: Pattern = ""
    release_answer: Pattern = ""

    @fit
    def _can_be_told_apart(self) -> Iterator[Mistake]:
        if self.press == self.release:
            yield Mistake(
                "", msg("press and release are the same; it could never let go for certain")
            )
        if (self.press_answer or self.release_answer) and not self.line_end:
            yield Mistake("", msg("an answer is only read up to a line end; give line_end"))

    def claims(self) -> Sequence[Claim]:
        return (Claim(self.port, f"button by {self.press}"),)


def answer_to(wired: SerialPress, pressed: bool) -> str:
    """Return the pattern of the answer to a press, or to letting go; empty if none is given."""
    return wired.press_answer if pressed else wired.release_answer


class TextButton:
    """Presses, holds, lets go."""

    def __init__(self, wired: SerialPress, port: TextPort) -> None:
        self._wired = wired
        self._port = port
        self._let_go = False

    @property
    def identity(self) -> Json:
        answers = bool(self._wired.press_answer and self._wired.release_answer)
        return {"driver": self._wired.driver, **self._port.identity, "answers": answers}

    async def press(self, held_s: float) -> None:
        """Press for `held_s` s and let go, whatever happens meanwhile.

        Raises
        ------
        BenchFault
            If one of the two was not answered, or the port has vanished.
        """
        try:
            self._let_go = False
            await self._port.say(msg("press"), self._wired.press, answer_to(self._wired, True))
            await trio.sleep(held_s)
        except BaseException:
            # Held on, the same button that stops in order would cut the power hard.
            with trio.move_on_after(_LETTING_GO_S, shield=True), suppress(BenchFault):
                await self.release()
            raise
        with trio.CancelScope(shield=True):
            await self.release()

    async def release(self) -> None:
        """Let go.

        Raises
        ------
        BenchFault
            If it was not answered, or the port has vanished.
        """
        await self._port.say(msg("let go"), self._wired.release, answer_to(self._wired, False))
        self._let_go = True

    async def aclose(self) -> None:
        """Let go of the button and of the port."""
        let_go = self._let_go
        self._let_go = True  # tried once: twice is safe
        try:
            if not let_go:
                await self.release()
        finally:
            await self._port.aclose()


@driver("button", "serial_press", SerialPress)
async def open_serial_press(name: str, wired: SerialPress, tools: Tools) -> TextButton:
    """Open the port and let go of the button: an earlier program may have died holding it."""
    port = await open_port(name, wired, tools, speaks="text")
    button = TextButton(wired, TextPort(name, wired, port))
    try:
        await button.release()
    except BaseException:
        await port.aclose()
        raise
    return button
