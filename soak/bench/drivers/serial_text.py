"""Switch and load: a relay board or microcontroller that takes commands over serial, as text."""

import re
from collections.abc import Sequence
from typing import Literal

from pydantic import Field, field_validator, model_validator

from soak.bench.commanding import commanded
from soak.bench.readings import Refused, shown
from soak.bench.registry import Tools, driver
from soak.bench.serial_port import SerialPort, SerialSettings, line_of, open_port
from soak.bench.wiring import Claim, LoadWired, SwitchWired
from soak.records import Json


class TextCommands(SerialSettings):
    r"""What is said to a board that is commanded by text, and what it answers.

    Attributes
    ----------
    on, off : str
        What is sent; `{channel}` stands for the channel. A byte is written `"\u00A0"`. They must
        set a state, not toggle it: a command that was not answered is said again.
    line_end : str
        Sent after it, and what ends an answer; empty: nothing is added (then no answer is read).
    on_answer, off_answer : str
        Regular expression that the whole answer must match; `{channel}` as above. Empty: the
        board never answers, so nobody knows whether it obeyed; the report says so.
    echoes : bool
        Whether the board repeats the command before it answers.
    tries : int
        How often a command is said until it is answered rightly.
    """

    on: str = Field(min_length=1)
    off: str = Field(min_length=1)
    line_end: str = Field(default="\r\n", max_length=4)
    on_answer: str = ""
    off_answer: str = ""
    echoes: bool = False
    tries: int = Field(default=2, ge=1, le=10)

    @field_validator("on_answer", "off_answer")
    @classmethod
    def _is_a_pattern(cls, pattern: str) -> str:
        try:
            re.compile(pattern.replace("{channel}", "1"))
        except re.error as fault:
            raise ValueError(f"is not a regular expression: {fault}") from None
        return pattern

    @field_validator("on", "off", "line_end")
    @classmethod
    def _is_bytes(cls, text: str) -> str:
        try:
            text.encode("latin-1")
        except UnicodeEncodeError:
            raise ValueError("holds a character that is not one byte; write \\u00XX") from None
        return text

    @model_validator(mode="after")
    def _can_be_told_apart(self) -> "TextCommands":
        if self.on == self.off:
            raise ValueError("on and off are the same; a switch that only toggles cannot be used")
        if (self.on_answer or self.off_answer) and not self.line_end:
            raise ValueError("an answer is only read up to a line end; give line_end")
        return self


class SerialText(SwitchWired, TextCommands):
    """Settings of a switch commanded by text."""

    driver: Literal["serial_text"]

    def claims(self) -> Sequence[Claim]:
        return (Claim(self.port, f"channel {self.channel}"),)


class SerialTextLoad(LoadWired, TextCommands):
    """Settings of a load that a board switches; `channel` is the board's name for its output.

    A resistor of 10 ohm draws 0.5 A from 5 V (and takes 2.5 W), one of 5.6 ohm 0.9 A (4.5 W).
    """

    driver: Literal["serial_text"]
    channel: str = "1"

    def claims(self) -> Sequence[Claim]:
        return (Claim(self.port, f"channel {self.channel}"),)


def request(wired: TextCommands, channel: str, on: bool) -> bytes:
    """Return the bytes to send, line end included."""
    text = (wired.on if on else wired.off).replace("{channel}", channel)
    return (text + wired.line_end).encode("latin-1", "replace")


def parse(line: bytes, wired: TextCommands, channel: str, on: bool) -> None:
    """Check the answer to a command.

    Raises
    ------
    Refused
        If it is not the one the fixture file promises.
    """
    pattern = wired.on_answer if on else wired.off_answer
    pattern = pattern.replace("{channel}", re.escape(channel))
    if not re.fullmatch(pattern, line.decode("latin-1").strip(" \t\r\n\x00")):
        raise Refused(f"it answered {shown(line.strip())}, not {pattern}")


class TextSwitch:
    """A switch on a serial port, or one channel group of a board shared with other fixtures."""

    def __init__(self, name: str, wired: SerialText | SerialTextLoad, port: SerialPort) -> None:
        self._name, self._wired, self._port = name, wired, port

    @property
    def identity(self) -> Json:
        answers = bool(self._wired.on_answer and self._wired.off_answer)
        return {"driver": self._wired.driver, **self._port.identity, "answers": answers}

    async def command(self, channel: str, on: bool) -> None:
        """Send the command and wait for its answer, if the board gives one.

        Raises
        ------
        BenchFault
            If the answer is wrong, half or missing, or the port has vanished.
        """

        async def attempt() -> None:
            async with self._port.turn():
                await self._say(channel, on)

        what = f"{'on' if on else 'off'}, channel {channel}"
        await commanded(self._name, what, self._wired.tries, attempt)

    async def _say(self, channel: str, on: bool) -> None:
        wired, sent = self._wired, request(self._wired, channel, on)
        await self._port.tell(sent)
        if not (wired.on_answer if on else wired.off_answer) or not wired.line_end:
            return
        whole = line_of(wired.line_end.encode("latin-1"))
        heard = await self._port.hear(whole, wired.answer_s)
        if wired.echoes and heard.strip() == sent.strip():
            heard = await self._port.hear(whole, wired.answer_s)
        parse(heard, wired, channel, on)

    async def aclose(self) -> None:
        await self._port.aclose()


@driver("switch", "serial_text", SerialText)
async def open_serial_text(name: str, wired: SerialText, tools: Tools) -> TextSwitch:
    """Open the port; nothing is switched by that."""
    return TextSwitch(name, wired, await open_port(name, wired, tools, speaks="serial_text"))


class TextLoad:
    """A load behind one output of such a board."""

    def __init__(self, wired: SerialTextLoad, switch: TextSwitch) -> None:
        self._wired, self._switch = wired, switch

    @property
    def identity(self) -> Json:
        return self._switch.identity

    async def command(self, on: bool) -> None:
        """Put the load on or off, and wait for the board's answer.

        Raises
        ------
        BenchFault
            If the answer is wrong, half or missing, or the port has vanished.
        """
        await self._switch.command(self._wired.channel, on)

    async def aclose(self) -> None:
        await self._switch.aclose()


@driver("load", "serial_text", SerialTextLoad)
async def open_serial_text_load(name: str, wired: SerialTextLoad, tools: Tools) -> TextLoad:
    """Open the port; nothing is switched by that."""
    port = await open_port(name, wired, tools, speaks="serial_text")
    return TextLoad(wired, TextSwitch(name, wired, port))
