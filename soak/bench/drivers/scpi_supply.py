"""Switch and probes: a laboratory supply that speaks SCPI over serial.

It switches its output with `OUTP`, and the same port gives its current and voltage as readings.
The current limit is set by hand at the supply, before the unit is wired to it. So is the voltage,
unless the fixture says `sets_voltage`: then it stands at the model sheet's nominal voltage, and
can be tried at the rated limits.
"""

from collections.abc import AsyncIterator, Mapping, Sequence
from dataclasses import asdict
from types import MappingProxyType
from typing import Literal, TypeVar

import trio
from pydantic import Field

from soak.bench.commanding import commanded
from soak.bench.probe_settings import Pace, Polled
from soak.bench.readings import Refused, watched
from soak.bench.registry import Tools, driver
from soak.bench.serial.port import SerialPort, SerialSettings, open_port
from soak.bench.serial.scpi import Identity, errors, parse_number, parse_on, query, tell, who
from soak.errors import BenchFault, told_of
from soak.frozen.wiring import Claim, Rated, SettableSwitch, refuse_outside
from soak.records import Json, Reading, State
from soak.settings import Seconds
from soak.words import Number, joined, msg

_QUERY: Mapping[str, str] = MappingProxyType(
    {"V": "MEAS:VOLT?", "A": "MEAS:CURR?", "W": "MEAS:POW?"}
)

parse = parse_number
"""Read a measured voltage or current; `Refused` if it is none."""


class ScpiPort(SerialSettings):
    r"""How a supply is spoken to, as switch and as probe.

    Attributes
    ----------
    select : str
        Sent first where a supply has several outputs, `"INST:NSEL {channel}"`; empty: nothing.
    line_end : str
        What ends a command and an answer.
    pause_s : float
        Time the supply has for a command that it does not answer, s.
    """

    select: str = ""
    pause_s: Seconds = Field(default=0.05, ge=0, le=10)
    line_end: str = Field(default="\n", min_length=1, max_length=2)


class ScpiSwitch(SettableSwitch, ScpiPort):
    """Settings of a supply as the switch.

    Attributes
    ----------
    asks_back : bool
        Whether `OUTP?` must confirm the command.
    tries : int
        How often a command is said until the supply obeys without an error.
    """

    driver: Literal["scpi_supply"]
    asks_back: bool = True
    tries: int = Field(default=2, ge=1, le=10)

    def claims(self) -> Sequence[Claim]:
        return (Claim(self.port, f"output {self.channel}"),)


class ScpiProbe(Polled, ScpiPort):
    """Settings of a supply as a probe: what the unit draws.

    Attributes
    ----------
    unit : str
        `A`: its current, `V`: its voltage, `W`: its power.
    channel : str
        The output, where there are several.
    """

    driver: Literal["scpi_supply"]
    unit: Literal["V", "A", "W"]
    channel: str = "1"

    def claims(self) -> Sequence[Claim]:
        return (Claim(self.port, f"{_QUERY[self.unit]} of output {self.channel}"),)


class _Supply:
    """What switch and probe have in common: the port, and who answers on it."""

    def __init__(self, name: str, wired: ScpiSwitch | ScpiProbe, port: SerialPort) -> None:
        self._name = name
        self._wire = wired
        self._port = port
        self._line_end = wired.line_end.encode("ascii", "replace")
        self._is = Identity("")

    @property
    def identity(self) -> Json:
        return {"driver": self._wire.driver, **self._port.identity, **asdict(self._is)}

    async def introduce(self) -> None:
        """Ask who it is, and forget its old errors.

        Raises
        ------
        BenchFault
            If nothing came back, or it has no error queue.
        """
        async with self._port.turn():
            self._is = await who(self._name, self._port, self._line_end, self._wire.answer_s)
            await self._tell("*CLS")
            try:
                await self._errors()
            except Refused as refusal:
                raise BenchFault(
                    self._name,
                    msg(
                        "does not answer SYST:ERR? ({why}); use another driver",
                        why=told_of(refusal),
                    ),
                ) from None

    async def _select(self, channel: str) -> None:
        if self._wire.select:
            await self._tell(self._wire.select.replace("{channel}", channel))
            await self._no_error(self._wire.select)

    async def _no_error(self, after: str) -> None:
        errors = await self._errors()
        if errors:
            raise Refused(
                msg(
                    "the supply reports error {found} after {after}",
                    found=joined("; ", errors),
                    after=after,
                )
            )

    async def _tell(self, command: str) -> None:
        await tell(self._port, command, self._line_end, self._wire.pause_s)

    async def _query(self, command: str) -> bytes:
        return await query(self._port, command, self._line_end, self._wire.answer_s)

    async def _errors(self) -> list[str]:
        return await errors(self._port, self._line_end, self._wire.answer_s)

    async def aclose(self) -> None:
        await self._port.aclose()


class SupplySwitch(_Supply):
    """The supply's output as the switch."""

    def __init__(self, name: str, wired: ScpiSwitch, port: SerialPort) -> None:
        super().__init__(name, wired, port)
        self._wired = wired

    async def command(self, channel: str, on: bool) -> None:
        """Switch the output; ask for errors and whether it did.

        Raises
        ------
        BenchFault
            If it reports an error, does not confirm, or does not answer.
        """

        async def attempt() -> None:
            async with self._port.turn():
                await self._select(channel)
                command = f"OUTP {'ON' if on else 'OFF'}"
                await self._tell(command)
                await self._no_error(command)
                if self._wired.asks_back and parse_on(await self._query("OUTP?")) is not on:
                    still_off = msg("OUTP? says that it is still off")
                    raise Refused(still_off if on else msg("OUTP? says that it is still on"))

        what = f"{'on' if on else 'off'}, output {channel}"
        await commanded(self._name, what, self._wired.tries, attempt)

    async def asked_on(self, channel: str) -> bool:
        """Ask whether the output is on.

        Raises
        ------
        BenchFault
            If it does not answer, or the fixture says that it is not to be asked.
        """
        if not self._wired.asks_back:
            raise BenchFault(self._name, msg("is not to be asked (asks_back = false)"))
        try:
            async with self._port.turn():
                await self._select(channel)
                return parse_on(await self._query("OUTP?"))
        except Refused as refused:
            raise BenchFault(self._name, told_of(refused)) from None


class SettableSupply(SupplySwitch):
    """The supply's output as a switch whose voltage can be set within the unit's rated range.

    References
    ----------
    SCPI-99, Volume 2, 19.21 (`[SOURce:]VOLTage[:LEVel][:IMMediate][:AMPLitude]`).
    """

    @property
    def nominal_v(self) -> float:
        return self._rated.nominal_v

    @property
    def highest_v(self) -> float:
        return self._rated.highest_v

    @property
    def accuracy_v(self) -> float:
        return self._wired.accuracy_v

    @property
    def _rated(self) -> Rated:
        assert self._wired.rated is not None
        return self._wired.rated

    async def set_voltage(self, channel: str, volt: float) -> float:
        """Set the voltage, ask for errors and what it is set to.

        Raises
        ------
        BenchFault
            If it lies outside the rated range, or the supply reports an error or another setting.
        """
        refuse_outside(self._name, self._rated, volt)
        said = volt

        async def attempt() -> None:
            nonlocal said
            async with self._port.turn():
                await self._select(channel)
                command = f"VOLT {volt:.4f}"
                await self._tell(command)
                await self._no_error(command)
                said = parse(await self._query("VOLT?"))
            if abs(said - volt) > self._wired.accuracy_v:
                raise Refused(msg("VOLT? says that it is set to {said} V", said=Number(said, "g")))

        await commanded(self._name, f"{volt:g} V, output {channel}", self._wired.tries, attempt)
        return said

    async def fed_v(self, channel: str) -> float:
        """Measure the output."""
        volts = 0.0

        async def attempt() -> None:
            nonlocal volts
            async with self._port.turn():
                await self._select(channel)
                volts = parse(await self._query(_QUERY["V"]))

        await commanded(self._name, f"MEAS:VOLT?, output {channel}", self._wired.tries, attempt)
        return volts

    async def interrupt(self, channel: str, for_s: float) -> float:
        """Switch off and on again with nothing said between, then ask whether it is on.

        How fast the output itself falls is the supply's: output capacitors take their time.
        """
        try:
            async with self._port.turn():
                await self._select(channel)
                begun_s = trio.current_time()
                await self._port.tell(b"OUTP OFF" + self._line_end)
                await trio.sleep_until(begun_s + for_s)
                broken_s = trio.current_time() - begun_s
                await self._tell("OUTP ON")
                await self._no_error("OUTP ON")
                if self._wired.asks_back and not parse_on(await self._query("OUTP?")):
                    raise Refused(msg("OUTP? says that it is still off"))
        except Refused as refusal:
            raise BenchFault(
                self._name, msg("after a short break: {why}", why=told_of(refusal))
            ) from None
        return broken_s


class SupplyProbe(_Supply):
    """The supply's own measurement as a probe."""

    def __init__(self, name: str, wired: ScpiProbe, port: SerialPort) -> None:
        super().__init__(name, wired, port)
        self._wired = wired
        self._pace = Pace(wired.every_s)

    def readings(self) -> AsyncIterator[Reading | State]:
        return watched(self._name, self._wired.silent_after_s, self._take)

    async def _take(self) -> float:
        await self._pace.next()
        async with self._port.turn():
            await self._select(self._wired.channel)
            asked = _QUERY[self._wired.unit]
            try:
                return parse(await self._query(asked))
            except Refused as refusal:
                await self._no_error(asked)  # its own reason is the better one
                raise refusal from None


S = TypeVar("S", bound=_Supply)


@driver("switch", "scpi_supply", ScpiSwitch)
async def open_supply_switch(name: str, wired: ScpiSwitch, tools: Tools) -> SupplySwitch:
    """Open or share the port and ask `*IDN?`; nothing is switched by that."""
    port = await open_port(name, wired, tools, speaks="scpi_supply")
    kind = SupplySwitch if wired.rated is None else SettableSupply
    return await _introduced(kind(name, wired, port))


@driver("probe", "scpi_supply", ScpiProbe)
async def open_supply_probe(name: str, wired: ScpiProbe, tools: Tools) -> SupplyProbe:
    """Open or share the port and ask `*IDN?`."""
    port = await open_port(name, wired, tools, speaks="scpi_supply")
    return await _introduced(SupplyProbe(name, wired, port))


async def _introduced(supply: S) -> S:
    try:
        await supply.introduce()
    except BaseException:
        await supply.aclose()
        raise
    return supply
