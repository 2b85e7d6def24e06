"""Modbus RTU on the wire: checksums, whole frames, exceptions.

References
----------
MODBUS over Serial Line, Specification and Implementation Guide V1.02, modbus.org, 2006: 2.5.1.2
(CRC) and appendix B. MODBUS Application Protocol Specification V1.1b3, 2012: 7 (exception codes).
"""

import struct
from collections.abc import Mapping
from types import MappingProxyType

from soak.bench.readings import Refused

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
