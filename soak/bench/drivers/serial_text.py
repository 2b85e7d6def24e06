"""Switch and load: a relay board or microcontroller that takes commands over serial, as text."""

import re
from collections.abc import Iterator, Sequence
from typing import Literal

from pydantic import Field

from soak.bench.registry import Tools, driver
from soak.bench.serial.port import SerialPort, open_port
from soak.bench.serial.text_talk import Pattern, Said, TextPort, TextTalk
from soak.errors import Mistake
from soak.frozen.wiring import Claim, LoadWired, SwitchWired
from soak.mistakes import fit
from soak.records import Json


class TextCommands(TextTalk):
    r"""What is said to a board that is commanded by text, and what it answers.

    Attributes
    ----------
    on : str
        What is sent to switch on; `{channel}` stands for the channel. A byte is written
        `"\u00A0"`. It must set a state, not toggle it: a command that was not answered is
        said again.
    off : str
        What is sent to switch off, as `on`.
    on_answer : str
        Regular expression that the whole answer to `on` must match; `{channel}` stands for
        the channel. Empty: the board never answers, so nobody knows whether it obeyed; the
        report says so.
    off_answer : str
        Regular expression that the whole answer to `off` must match, as `on_answer`.
    """

    on: Said = Field(min_length=1)
    off: Said = Field(min_length=1)
    on_answer: Pattern = ""
    off_answer: Pattern = ""

    @fit
    def _can_be_told_apart(self) -> Iterator[Mistake]:
        if self.on == self.off:
            yield Mistake("", "on and off are the same; a switch that only toggles cannot be used")
        if (self.on_answer or self.off_answer) and not self.line_end:
            yield Mistake("", "an answer is only read up to a line end; give line_end")


class SerialText(SwitchWired, TextCommands):
    """Settings of a switch commanded by text."""

    driver: Literal["serial_text"]

    def claims(self) -> Sequence[Claim]:
        return (Claim(self.port, f"channel {self.channel}"),)


class SerialTextLoad(LoadWired, TextCommands):
    """Settings of a load that a board switches; `channel` is the board's name for its output.

    A resistor of 10 ohm draws 0.5 A from 5 V (and takes 2.5 W), one of 5.6 ohm 0.9 A (4.5 W).

    Attributes
    ----------
    channel : str
        The board's name for the output that the load hangs on.
    """

    driver: Literal["serial_text"]
    channel: str = "1"

    def claims(self) -> Sequence[Claim]:
        return (Claim(self.port, f"channel {self.channel}"),)


def request(wired: TextCommands, channel: str, on: bool) -> str:
    """Return what to say, line end not included."""
    return (wired.on if on else wired.off).replace("{channel}", channel)


def answer_to(wired: TextCommands, channel: str, on: bool) -> str:
    """Return the pattern of the answer; empty if none is given."""
    pattern = wired.on_answer if on else wired.off_answer
    return pattern.replace("{channel}", re.escape(channel))


class TextSwitch:
    """A switch on a serial port, or one channel group of a board shared with other fixtures."""

    def __init__(self, name: str, wired: SerialText | SerialTextLoad, port: SerialPort) -> None:
        self._wired = wired
        self._port = TextPort(name, wired, port)

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
        what = f"{'on' if on else 'off'}, channel {channel}"
        wired = self._wired
        await self._port.say(what, request(wired, channel, on), answer_to(wired, channel, on))

    async def aclose(self) -> None:
        await self._port.aclose()


@driver("switch", "serial_text", SerialText)
async def open_serial_text(name: str, wired: SerialText, tools: Tools) -> TextSwitch:
    """Open the port; nothing is switched by that."""
    return TextSwitch(name, wired, await open_port(name, wired, tools, speaks="serial_text"))


class TextLoad:
    """A load behind one output of such a board."""

    def __init__(self, wired: SerialTextLoad, switch: TextSwitch) -> None:
        self._wired = wired
        self._switch = switch

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
