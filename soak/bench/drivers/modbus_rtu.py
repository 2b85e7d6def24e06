"""Switch: a relay module that speaks Modbus RTU; a coil is written with function 05.

References
----------
MODBUS Application Protocol Specification V1.1b3, modbus.org, 2012: 6.5.
"""

import struct
from collections.abc import Sequence
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from soak.allowed import Takes
from soak.bench.commanding import commanded
from soak.bench.readings import Refused
from soak.bench.registry import Tools, driver
from soak.bench.serial.modbus import EXCEPTION_BYTES, SPEAKS, ask, check_frame, framed, refuses
from soak.bench.serial.port import SerialPort, SerialSettings, open_port
from soak.frozen.wiring import Claim, SwitchWired
from soak.records import Json
from soak.words import msg

_WRITE_COIL = 0x05
_ECHO_BYTES = 8


def _coil(channel: str) -> str:
    if not (channel.isascii() and channel.isdigit() and 1 <= int(channel) <= 65536):
        raise ValueError("no number of a coil; they go from 1 to 65536")
    return channel


class ModbusRtu(SwitchWired, SerialSettings):
    """Settings of a Modbus RTU relay module.

    Attributes
    ----------
    channel : str
        The coil's number, from 1 as makers print it; coil 1 has address 0 on the wire.
    device : int
        The module's address on the bus.
    tries : int
        How often a command is said until it is echoed.
    """

    driver: Literal["modbus_rtu"]
    channel: Annotated[
        str, AfterValidator(_coil), Takes(msg('the number of a coil, "1" to "65536"'))
    ] = "1"
    device: int = Field(default=1, ge=1, le=247)
    tries: int = Field(default=2, ge=1, le=10)

    def claims(self) -> Sequence[Claim]:
        return (Claim(self.port, f"device {self.device} coil {int(self.channel)}"),)


def write_coil(device: int, coil: int, on: bool) -> bytes:
    """Return the frame that switches coil number `coil` (from 1) of `device`."""
    return framed(struct.pack(">BBHH", device, _WRITE_COIL, coil - 1, 0xFF00 if on else 0x0000))


def whole_frame(data: bytes) -> int:
    """Return the length of the answer that `data` begins with; 0 while it is not whole."""
    length = EXCEPTION_BYTES if len(data) >= 2 and refuses(data) else _ECHO_BYTES
    return length if len(data) >= length else 0


def parse(frame: bytes, sent: bytes) -> None:
    """Check the answer to a written coil: it must repeat the request.

    Raises
    ------
    Refused
        If its checksum is wrong, it is an exception (named), or it is another frame.
    """
    check_frame(frame, sent)
    if frame != sent:
        raise Refused(
            msg(
                "it answered {frame}, not the echo {sent}", frame=frame.hex(" "), sent=sent.hex(" ")
            )
        )


class CoilSwitch:
    """A relay module; several fixtures may share one bus, each with its own coil."""

    def __init__(self, name: str, wired: ModbusRtu, port: SerialPort) -> None:
        self._name = name
        self._wired = wired
        self._port = port

    @property
    def identity(self) -> Json:
        device = self._wired.device
        return {"driver": self._wired.driver, **self._port.identity, "device": device}

    async def command(self, channel: str, on: bool) -> None:
        """Write the coil and wait for the echo.

        Raises
        ------
        BenchFault
            If it is not echoed, the module refuses, or the port has vanished.
        """
        wired = self._wired
        sent = write_coil(wired.device, int(channel), on)

        async def attempt() -> None:
            parse(await ask(self._port, sent, whole_frame, wired), sent)

        await commanded(
            self._name, f"{'on' if on else 'off'}, coil {channel}", wired.tries, attempt
        )

    async def aclose(self) -> None:
        await self._port.aclose()


@driver("switch", "modbus_rtu", ModbusRtu)
async def open_modbus_rtu(name: str, wired: ModbusRtu, tools: Tools) -> CoilSwitch:
    """Open the port, or share the bus; nothing is switched by that."""
    return CoilSwitch(name, wired, await open_port(name, wired, tools, speaks=SPEAKS))
