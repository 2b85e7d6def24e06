"""Probe: a thermometer or meter whose reading stands in a register, asked over Modbus RTU.

References
----------
MODBUS Application Protocol Specification V1.1b3, modbus.org, 2012: 6.3 (function 03) and 6.4 (04).
"""

import struct
from collections.abc import AsyncIterator, Mapping, Sequence
from types import MappingProxyType
from typing import Literal

from pydantic import Field

from soak.bench.probe_settings import Pace, Polled, Printing
from soak.bench.readings import Refused, watched
from soak.bench.registry import Tools, driver
from soak.bench.serial.modbus import EXCEPTION_BYTES, SPEAKS, ask, check_frame, framed, refuses
from soak.bench.serial.port import SerialPort, SerialSettings, open_port
from soak.frozen.wiring import Claim
from soak.records import Json, Reading, State

_FUNCTION: Mapping[str, int] = MappingProxyType({"holding": 0x03, "input": 0x04})
_AS_STRUCT: Mapping[str, str] = MappingProxyType(
    {"int16": ">h", "uint16": ">H", "int32": ">i", "uint32": ">I", "float32": ">f"}
)


class ModbusRegister(Polled, Printing, SerialSettings):
    """Settings of a probe whose reading stands in registers of a Modbus RTU device.

    Attributes
    ----------
    device : int
        The probe's address on the bus.
    registers : str
        Which kind the manual says: holding registers (function 03), or input registers (04).
    number : int
        The register's number, from 1; number 1 has address 0 on the wire. Makers who print
        addresses print one less.
    holds : str
        What stands there: 16 bits in one register, 32 in two; `int` has a sign, `uint` none.
    low_word_first : bool
        Whether of two registers the first holds the lower 16 bits.
    scale : float
        What one step of the number is worth: 0.1 where 235 means 23.5.
    broken : list of float
        Numbers, before `scale`, that stand for a broken or missing sensor; the manual lists them.
    """

    driver: Literal["modbus_register"]
    device: int = Field(default=1, ge=1, le=247)
    registers: Literal["holding", "input"]
    number: int = Field(ge=1, le=65536)
    holds: Literal["int16", "uint16", "int32", "uint32", "float32"] = "int16"
    low_word_first: bool = False
    scale: float = Field(default=1.0, gt=0)
    broken: Sequence[float] = ()

    @property
    def value_bytes(self) -> int:
        """Bytes of the number asked for."""
        return struct.calcsize(_AS_STRUCT[self.holds])

    def claims(self) -> Sequence[Claim]:
        return (Claim(self.port, f"device {self.device} {self.registers} {self.number}"),)


def question(wired: ModbusRegister) -> bytes:
    """Return the frame that asks for the number."""
    address = wired.number - 1
    registers = wired.value_bytes // 2
    asked = (wired.device, _FUNCTION[wired.registers], address, registers)
    return framed(struct.pack(">BBHH", *asked))


def whole_frame(data: bytes) -> int:
    """Return the length of the answer that `data` begins with; 0 while it is not whole."""
    if len(data) < EXCEPTION_BYTES:
        return 0
    length = EXCEPTION_BYTES if refuses(data) else EXCEPTION_BYTES + data[2]
    return length if len(data) >= length else 0


def parse(frame: bytes, wired: ModbusRegister) -> float:
    """Return the value of an answer, in the probe's measurement unit.

    Raises
    ------
    Refused
        If its checksum is wrong, it is an exception (named) or another frame, or the number
        stands for a broken sensor or is none.
    """
    sent = question(wired)
    check_frame(frame, sent)
    length = wired.value_bytes
    if frame[:3] != bytes([*sent[:2], length]) or len(frame) != EXCEPTION_BYTES + length:
        raise Refused(f"it answered {frame.hex(' ')}, which is not the answer to {sent.hex(' ')}")
    words = frame[3:-2]
    if wired.low_word_first:
        words = words[2:] + words[:2]
    [number] = struct.unpack(_AS_STRUCT[wired.holds], words)
    if number in wired.broken or number - number != 0:
        raise Refused(f"it answered {number:g}, which stands for a broken or missing sensor")
    return wired.kept(number * wired.scale)


class RegisterProbe:
    """A probe that is asked; it may share the bus with others."""

    def __init__(self, name: str, wired: ModbusRegister, port: SerialPort) -> None:
        self._name = name
        self._wired = wired
        self._port = port
        self._pace = Pace(wired.every_s)

    @property
    def identity(self) -> Json:
        device = self._wired.device
        return {"driver": self._wired.driver, **self._port.identity, "device": device}

    def readings(self) -> AsyncIterator[Reading | State]:
        return watched(self._name, self._wired.silent_after_s, self._take)

    async def _take(self) -> float:
        await self._pace.next()
        wired = self._wired
        return parse(await ask(self._port, question(wired), whole_frame, wired), wired)

    async def aclose(self) -> None:
        await self._port.aclose()


@driver("probe", "modbus_register", ModbusRegister)
async def open_modbus_register(name: str, wired: ModbusRegister, tools: Tools) -> RegisterProbe:
    """Open the port, or share the bus; whether it answers shows in its readings."""
    return RegisterProbe(name, wired, await open_port(name, wired, tools, speaks=SPEAKS))
