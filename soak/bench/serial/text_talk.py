"""Commands as lines of text over serial: said, answered, checked, said again."""

import re
from typing import Annotated

from pydantic import AfterValidator, Field

from soak.allowed import Takes
from soak.bench.commanding import commanded
from soak.bench.readings import Refused, shown
from soak.bench.serial.port import SerialPort, SerialSettings
from soak.records import Json
from soak.words import msg


def _as_bytes(text: str) -> str:
    try:
        text.encode("latin-1")
    except UnicodeEncodeError:
        raise ValueError("holds a character that is not one byte; write \\u00XX") from None
    return text


def _as_pattern(pattern: str) -> str:
    try:
        re.compile(pattern.replace("{channel}", "1").replace("{position}", "1"))
    except re.error as fault:
        raise ValueError(f"no regular expression: {fault}") from None
    return pattern


Said = Annotated[str, AfterValidator(_as_bytes)]
"""What is sent, one byte a character; a byte is written `"\\u00A0"`."""

Pattern = Annotated[str, AfterValidator(_as_pattern), Takes(msg("a regular expression"))]
"""A regular expression that a whole answer must match; empty: the board never answers."""


class TextTalk(SerialSettings):
    """How one talks with a board that is commanded by text.

    Attributes
    ----------
    line_end : str
        Sent after each command, and what ends an answer; empty: nothing is added (then no answer
        is read).
    echoes : bool
        Whether the board repeats the command before it answers.
    tries : int
        How often a command is said until it is answered rightly.
    """

    line_end: Said = Field(default="\r\n", max_length=4)
    echoes: bool = False
    tries: int = Field(default=2, ge=1, le=10)


def check_answer(line: bytes, pattern: str) -> None:
    """Check an answer against the pattern that the fixture file promises.

    Raises
    ------
    Refused
        If it is another one.
    """
    if not re.fullmatch(pattern, line.decode("latin-1").strip(" \t\r\n\x00")):
        raise Refused(
            msg("it answered {line}, not {pattern}", line=shown(line.strip()), pattern=pattern)
        )


class TextPort:
    """Says commands to one board, by turns with whoever shares its port."""

    def __init__(self, name: str, wired: TextTalk, port: SerialPort) -> None:
        self._name = name
        self._wired = wired
        self._port = port

    @property
    def identity(self) -> Json:
        """Port and adapter as found."""
        return self._port.identity

    async def say(self, what: str, text: str, pattern: str) -> None:
        """Say a command until it is answered as `pattern` says, or once where it is empty.

        Parameters
        ----------
        what : str
            What was commanded, for the message: `"on, channel 1"`.

        Raises
        ------
        BenchFault
            If the answer is wrong, half or missing, or the port has vanished.
        """

        async def attempt() -> None:
            async with self._port.turn():
                await self._say(text, pattern)

        await commanded(self._name, what, self._wired.tries, attempt)

    async def _say(self, text: str, pattern: str) -> None:
        wired = self._wired
        sent = (text + wired.line_end).encode("latin-1", "replace")
        await self._port.tell(sent)
        if not pattern or not wired.line_end:
            return
        line_end = wired.line_end.encode("latin-1")
        heard = await self._port.answer(line_end, wired.answer_s)
        if wired.echoes and heard.strip() == sent.strip():
            heard = await self._port.answer(line_end, wired.answer_s)
        check_answer(heard, pattern)

    async def aclose(self) -> None:
        """Let go of the port."""
        await self._port.aclose()
