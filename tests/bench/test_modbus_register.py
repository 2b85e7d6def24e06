"""The Modbus RTU register probe against pymodbus, its frames and as the other side."""

import struct
from contextlib import aclosing
from pathlib import Path
from typing import Any

import pytest
from bench_tools import open_driver, run_real, wired
from hypothesis import given
from hypothesis import strategies as st
from modbus_bus import joined, module
from pymodbus.framer import FramerRTU
from pymodbus.pdu import DecodePDU
from pymodbus.pdu.register_message import (
    ReadHoldingRegistersRequest,
    ReadHoldingRegistersResponse,
    ReadInputRegistersRequest,
    ReadInputRegistersResponse,
)

from soak.bench.drivers.modbus_register import parse, question, whole_frame
from soak.bench.readings import Refused
from soak.bench.registry import Tools
from soak.bench.serial.modbus import silence_s
from soak.records import Reading

ASKED = {"holding": ReadHoldingRegistersRequest, "input": ReadInputRegistersRequest}
ANSWERED = {"holding": ReadHoldingRegistersResponse, "input": ReadInputRegistersResponse}
AS = {"int16": ">h", "uint16": ">H", "int32": ">i", "uint32": ">I", "float32": ">f"}
registers = st.sampled_from(sorted(ASKED))
holds = st.sampled_from(sorted(AS))


def probe(**settings: Any) -> Any:
    """Return checked settings."""
    plain = {"driver": "modbus_register", "port": "/dev/none", "device": 17, "number": 9}
    return wired("probe", {**plain, "registers": "input", **settings})


@given(st.integers(1, 247), st.integers(1, 65536), registers, holds)
def test_every_question_is_the_frame_pymodbus_builds(
    device: int, number: int, registers: str, holds: str
) -> None:
    """Any device, register and number give the frame of the reference library."""
    asked = probe(device=device, number=number, registers=registers, holds=holds)
    count = struct.calcsize(AS[holds]) // 2
    request = ASKED[registers](dev_id=device, address=number - 1, count=count)
    assert question(asked) == FramerRTU(DecodePDU(False)).buildFrame(request)


@given(st.binary(min_size=4, max_size=4), registers, holds, st.booleans())
def test_every_answer_of_pymodbus_is_read_as_its_bytes_say(
    words: bytes, registers: str, holds: str, low_word_first: bool
) -> None:
    """Two's complement, IEEE 754, either order of words: as Python's struct reads them."""
    words = words[: struct.calcsize(AS[holds])]
    [number] = struct.unpack(AS[holds], words)
    sent = words[2:] + words[:2] if low_word_first else words
    values = [int.from_bytes(sent[at : at + 2], "big") for at in range(0, len(sent), 2)]
    answer = ANSWERED[registers](dev_id=17, registers=values)
    frame = FramerRTU(DecodePDU(True)).buildFrame(answer)
    asked = probe(registers=registers, holds=holds, low_word_first=low_word_first)
    assert whole_frame(frame + b"more") == len(frame)
    if number != number or number in (float("inf"), float("-inf")):
        with pytest.raises(Refused, match="broken or missing sensor"):
            parse(frame, asked)
    else:
        assert parse(frame, asked) == number


@given(st.binary(max_size=24))
def test_any_other_answer_is_refused_and_nothing_else_is_raised(data: bytes) -> None:
    """Whatever comes back, only an answer to the question is read."""
    assert 0 <= whole_frame(data) <= len(data)
    with pytest.raises(Refused):
        parse(data, probe())


@pytest.mark.parametrize(("baud", "silent_s"), [(9600, 0.0040), (19200, 0.0020), (115200, 0.00175)])
def test_the_bus_is_silent_as_long_as_the_standard_says(baud: int, silent_s: float) -> None:
    """3.5 characters of 11 bits, 1.75 ms above 19200 baud (over Serial Line V1.02, 2.5.1.1)."""
    assert silence_s(baud) == pytest.approx(silent_s, abs=5e-5)


def test_a_thermometer_and_a_relay_share_one_bus(tmp_path: Path) -> None:
    """The reference server answers both; each hears only what it asked for."""

    async def main(tools: Tools) -> None:
        values = [0] * 8 + [235]
        with joined() as (near, far), module(far, coils=8, registers=values) as told:
            bus = {"port": near, "device": 17, "settle_s": 0.0}
            relay = {**bus, "driver": "modbus_rtu", "channel": "3"}
            switch = await open_driver("switch", "switch", relay, tools)
            register = {"registers": "input", "number": 9, "scale": 0.1, "every_s": 0.05}
            asked = {**bus, "driver": "modbus_register", **register}
            thermometer = await open_driver("probe.air", "probe", asked, tools)
            found = []
            async with aclosing(thermometer.readings()) as stream:
                async for seen in stream:
                    if isinstance(seen, Reading):
                        await switch.command("3", len(found) % 2 == 0)
                        found.append(seen.value)
                    if len(found) == 4:
                        break
            await thermometer.aclose()
            await switch.aclose()
        assert found == pytest.approx([23.5] * 4)
        assert told == [(17, 2, True), (17, 2, False)] * 2

    run_real(main)
