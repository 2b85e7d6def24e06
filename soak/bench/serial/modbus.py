"""Modbus RTU on the wire: checksums, whole frames, exceptions.

References
----------
MODBUS over Serial Line, Specification and Implementation Guide V1.02, modbus.org, 2006: 2.5.1.2
(CRC), 2.5.1.1 (silence between frames) and appendix B. MODBUS Application Protocol Specification
V1.1b3, 2012: 7 (exception codes).
"""

import struct
from collections.abc import Mapping
from types import MappingProxyType

import trio

from soak.bench.readings import Refused
from soak.bench.serial.port import Complete, SerialPort, SerialSettings

SPEAKS = "modbus_rtu"
"""What instruments that may share one bus speak."""

_EXCEPTION = 0x80
EXCEPTION_BYTES = 5
"""Bytes of an answer that refuses, and of the shortest whole answer; by the format."""

_EXCEPTIONS: Mapping[int, str] = MappingProxyType(
    {
        1: "illegal function",
        2: "illegal data address",
        3: "illegal data value",
        4: "device failure",
        5: "acknowledge, still working",
        6: "device busy",
        8: "memory parity error",
        10: "gateway path unavailable",
        11: "gateway target did not respond",
    }
)


_CHARACTER_BITS = 11
_SILENT_CHARACTERS = 3.5
_FAST_BAUD = 19200
_SILENT_WHEN_FAST_S = 0.00175
"""Silence on a bus before a frame above 19200 baud, s, as the specification of MODBUS over Serial
Line recommends (2.5.1.1)."""


def silence_s(baud: int) -> float:
    """Return how long a bus is silent before a frame, s."""
    if baud > _FAST_BAUD:
        return _SILENT_WHEN_FAST_S
    return _SILENT_CHARACTERS * _CHARACTER_BITS / baud


async def ask(port: SerialPort, sent: bytes, whole: Complete, wired: SerialSettings) -> bytes:
    """Send a frame in a turn of its own and return the whole answer.

    Raises
    ------
    Refused, BenchFault
        As `SerialPort.hear`.
    """
    async with port.turn():
        await trio.sleep(silence_s(wired.baud))
        await port.tell(sent)
        return await port.hear(whole, wired.answer_s)


def crc(data: bytes) -> bytes:
    """Return the CRC-16 of a frame as it is sent, low byte first."""
    register = 0xFFFF
    for byte in data:
        register ^= byte
        for _ in range(8):
            register = register >> 1 ^ (0xA001 if register & 1 else 0)
    return struct.pack("<H", register)


def framed(data: bytes) -> bytes:
    """Return address, function and data with their checksum."""
    return data + crc(data)


def refuses(frame: bytes) -> bool:
    """Tell whether an answer, of which two bytes are there, is an exception."""
    return bool(frame[1] & _EXCEPTION)


def check_frame(frame: bytes, sent: bytes) -> None:
    """Check an answer's checksum, and that it is no exception to what was sent.

    Raises
    ------
    Refused
        If its checksum is wrong, or it is an exception, which is named.
    """
    if len(frame) < EXCEPTION_BYTES or crc(frame[:-2]) != frame[-2:]:
        raise Refused(f"the answer {frame.hex(' ')} is damaged: its checksum is wrong")
    of_this = frame[:1] == sent[:1] and frame[1] == sent[1] | _EXCEPTION
    if of_this and len(frame) == EXCEPTION_BYTES:
        name = _EXCEPTIONS.get(frame[2], "not in the standard")
        raise Refused(f"the module refuses: exception {frame[2]}, {name}")
