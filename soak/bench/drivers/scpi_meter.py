"""Probe: a meter that answers SCPI queries, `MEAS:TEMP?` or `MEAS:VOLT:DC?`, over serial."""

from collections.abc import AsyncIterator, Iterator, Mapping, Sequence
from dataclasses import asdict
from types import MappingProxyType
from typing import Any, Literal

from pydantic import Field

from soak.bench.probe_settings import Pace, Polled, Printing
from soak.bench.readings import watched
from soak.bench.registry import Tools, driver
from soak.bench.serial.port import SerialPort, SerialSettings, open_port
from soak.bench.serial.scpi import Identity, parse_number, query, tell, who
from soak.errors import Mistake
from soak.frozen.wiring import Claim
from soak.mistakes import fit
from soak.records import Json, Reading, State
from soak.words import msg

_QUERY: Mapping[str, str] = MappingProxyType(
    {"degC": "MEAS:TEMP?", "V": "MEAS:VOLT:DC?", "A": "MEAS:CURR:DC?"}
)


_PAUSE_S = 0.2
"""Time a meter has to change to remote control. Our own choice."""


class ScpiMeter(Polled, Printing, SerialSettings):
    r"""Settings of a SCPI meter.

    Attributes
    ----------
    query : str
        What is asked; empty: by the unit `MEAS:TEMP?`, `MEAS:VOLT:DC?` or `MEAS:CURR:DC?`.
    line_end : str
        Sent after each command, and what ends an answer.
    remote : str
        Sent once before anything else, `"SYST:REM"` where a meter wants it; empty: nothing.
    """

    driver: Literal["scpi_meter"]
    query: str = ""
    line_end: str = Field(default="\n", min_length=1, max_length=2)
    remote: str = ""

    @fit
    def _can_be_asked(self) -> Iterator[Mistake]:
        if not self.query and self.unit not in _QUERY:
            yield Mistake(
                "", msg("give the query for unit {unit}, such as MEAS:POW?", unit=self.unit)
            )
        if self.query and not self.query.endswith("?"):
            yield Mistake(
                "", msg("query {query} must end with a question mark", query=repr(self.query))
            )

    def claims(self) -> Sequence[Claim]:
        return (Claim(self.port, self.query or _QUERY[self.unit]),)


def parse(line: bytes, wired: ScpiMeter) -> float:
    """Return the value of an answer, in the probe's measurement unit.

    Raises
    ------
    Refused
        If it is not a number, or stands for overload.
    """
    return wired.kept(parse_number(line))


class Meter:
    """A probe that is asked."""

    def __init__(self, name: str, wired: ScpiMeter, port: SerialPort) -> None:
        self._name = name
        self._wired = wired
        self._port = port
        self._line_end = wired.line_end.encode("ascii", "replace")
        self._is = Identity("")
        self._pace = Pace(wired.every_s)

    @property
    def identity(self) -> Json:
        identity: dict[str, Any] = {"driver": self._wired.driver, **self._port.identity}
        return {**identity, **asdict(self._is)}

    async def introduce(self) -> None:
        """Take it into remote control and ask who it is.

        Raises
        ------
        BenchFault
            If nothing came back.
        """
        async with self._port.turn():
            if self._wired.remote:
                await tell(self._port, self._wired.remote, self._line_end, _PAUSE_S)
            self._is = await who(self._name, self._port, self._line_end, self._wired.answer_s)

    def readings(self) -> AsyncIterator[Reading | State]:
        return watched(self._name, self._wired.silent_after_s, self._take)

    async def _take(self) -> float:
        await self._pace.next()
        async with self._port.turn():
            asked = self._wired.query or _QUERY[self._wired.unit]
            answer = await query(self._port, asked, self._line_end, self._wired.answer_s)
            return parse(answer, self._wired)

    async def aclose(self) -> None:
        await self._port.aclose()


@driver("probe", "scpi_meter", ScpiMeter)
async def open_scpi_meter(name: str, wired: ScpiMeter, tools: Tools) -> Meter:
    """Open the port, or share it with another query to the same meter, and ask `*IDN?`."""
    meter = Meter(name, wired, await open_port(name, wired, tools, speaks="scpi_meter"))
    try:
        await meter.introduce()
    except BaseException:
        await meter.aclose()
        raise
    return meter
