"""The Modbus RTU switch against published frames and against pymodbus as the other side."""

from pathlib import Path

import pytest
from bench_tools import open_driver, run_real
from hypothesis import given
from hypothesis import strategies as st
from modbus_bus import joined, module
from pymodbus.framer import FramerRTU
from pymodbus.pdu import DecodePDU
from pymodbus.pdu.bit_message import WriteSingleCoilRequest

from soak.bench.drivers.modbus_rtu import parse, whole_frame, write_coil
from soak.bench.readings import Refused
from soak.bench.registry import Tools
from soak.bench.serial.modbus import crc
from soak.errors import BenchFault


@pytest.mark.parametrize(
    ("device", "coil", "on", "published"),
    [
        # simplymodbus.ca/FC05.htm: coil 173 of slave 11 hex on
        (0x11, 173, True, "11 05 00 AC FF 00 4E 8B"),
        # the same off, and relay 1 of slave 1: checksums computed with pymodbus 3.16
        (0x11, 173, False, "11 05 00 AC 00 00 0F 7B"),
        (1, 1, True, "01 05 00 00 FF 00 8C 3A"),
        (1, 1, False, "01 05 00 00 00 00 CD CA"),
    ],
)
def test_a_written_coil_is_the_published_frame(
    device: int, coil: int, on: bool, published: str
) -> None:
    """The bytes sent are those of the published example."""
    assert write_coil(device, coil, on) == bytes.fromhex(published)


def test_the_checksum_has_the_published_check_value() -> None:
    """CRC-16/MODBUS of "123456789" is 4B37 (catalogue of parametrised CRC algorithms)."""
    assert crc(b"123456789") == bytes.fromhex("374B")


@given(st.binary(max_size=64))
def test_the_checksum_is_that_of_pymodbus(data: bytes) -> None:
    """Any bytes have the checksum the reference library computes."""
    assert crc(data) == FramerRTU.compute_CRC(data).to_bytes(2, "big")


@given(st.integers(1, 247), st.integers(1, 65536), st.booleans())
def test_every_frame_is_the_one_pymodbus_builds(device: int, coil: int, on: bool) -> None:
    """Any device and coil give the frame of the reference library."""
    request = WriteSingleCoilRequest(dev_id=device, address=coil - 1, bits=[on])
    assert write_coil(device, coil, on) == FramerRTU(DecodePDU(False)).buildFrame(request)


@given(st.binary(max_size=24))
def test_any_other_answer_is_refused_and_nothing_else_is_raised(data: bytes) -> None:
    """Whatever comes back, only the echo is accepted."""
    sent = write_coil(17, 173, True)
    assert 0 <= whole_frame(data) <= len(data)
    if data != sent:
        with pytest.raises(Refused):
            parse(data, sent)


@given(st.integers(0, 255))
def test_every_exception_code_is_refused_as_one(code: int) -> None:
    """An exception is told from a damaged answer whatever its code."""
    frame = bytes([17, 0x85, code])
    with pytest.raises(Refused, match=f"exception {code}, "):
        parse(frame + crc(frame), write_coil(17, 173, True))


def test_a_module_by_pymodbus_obeys_and_names_a_coil_it_has_not(tmp_path: Path) -> None:
    """The reference server understands on and off, and its exception reaches the operator."""

    async def main(tools: Tools) -> None:
        settings = {"driver": "modbus_rtu", "device": 17, "channel": "3", "settle_s": 0.0}
        with joined() as (near, far), module(far, coils=8) as told:
            switch = await open_driver("switch", "switch", {**settings, "port": near}, tools)
            await switch.command("3", True)
            await switch.command("3", False)
            with pytest.raises(BenchFault, match="exception 2, illegal data address"):
                await switch.command("4000", True)
            await switch.aclose()
        assert told[:2] == [(17, 2, True), (17, 2, False)]

    run_real(main)
