"""Probe: an instrument that prints a line with a number now and then, over serial."""

import re
from collections.abc import AsyncIterator, Sequence
from typing import Literal

import trio
from pydantic import Field, field_validator

from soak.bench.probe_settings import Printing
from soak.bench.readings import Refused, as_number, shown, watched
from soak.bench.registry import Tools, driver
from soak.bench.serial.port import SerialPort, SerialSettings, open_port
from soak.frozen.wiring import Claim
from soak.records import Json, Reading, State
from soak.words import msg


class SerialLines(Printing, SerialSettings):
    r"""Settings of a probe that prints lines.

    Attributes
    ----------
    pattern : str
        Regular expression that the whole line must match; its one group (or the group `value`)
        is the number. Say exactly how many decimals it prints, `(-?\d+\.\d\d)`: a line that lost
        its end, 23 of 23.50, is a plausible wrong value that only the pattern can refuse.
    line_end : str
        What ends a line; without it nothing is a line.
    decimal_comma : bool
        Whether `23,5` is 23.5.
    """

    driver: Literal["serial_lines"]
    pattern: str
    line_end: str = Field(default="\n", min_length=1, max_length=8)
    decimal_comma: bool = False

    @field_validator("pattern")
    @classmethod
    def _has_one_number(cls, pattern: str) -> str:
        try:
            compiled = re.compile(pattern)
        except re.error as fault:
            raise ValueError(f"no regular expression: {fault}") from None
        if "value" not in compiled.groupindex and compiled.groups != 1:
            raise ValueError("needs one group (...) around the number, or a group (?P<value>...)")
        return pattern

    def claims(self) -> Sequence[Claim]:
        return (Claim(self.port),)


def parse(line: bytes, wired: SerialLines) -> float:
    """Return the value of one whole line, in the probe's measurement unit.

    Raises
    ------
    Refused
        If the line as a whole does not match, or what it picks is not a number.
    """
    text = line.decode("latin-1").strip(" \t\r\n\x00")
    match = re.fullmatch(wired.pattern, text)
    if match is None:
        raise Refused(msg("the line {line} does not match the pattern", line=shown(line.strip())))
    picked = match["value"] if "value" in match.re.groupindex else match[1]
    return wired.kept(as_number(picked or "", wired.decimal_comma))


class LineProbe:
    """A probe that listens."""

    def __init__(self, name: str, wired: SerialLines, port: SerialPort) -> None:
        self._name = name
        self._wired = wired
        self._port = port
        self._line_end = wired.line_end.encode("latin-1", "replace")

    @property
    def identity(self) -> Json:
        return {"driver": self._wired.driver, **self._port.identity}

    def readings(self) -> AsyncIterator[Reading | State]:
        return watched(self._name, self._wired.silent_after_s, self._take)

    async def _take(self) -> float | None:
        line = await self._port.line(self._line_end, min(1.0, self._wired.silent_after_s))
        if line is None or not line.strip():
            await trio.lowlevel.checkpoint()
            return None
        return parse(line, self._wired)

    async def aclose(self) -> None:
        await self._port.aclose()


@driver("probe", "serial_lines", SerialLines)
async def open_serial_lines(name: str, wired: SerialLines, tools: Tools) -> LineProbe:
    """Open the port; whether it prints anything shows in its readings."""
    return LineProbe(name, wired, await open_port(name, wired, tools))
