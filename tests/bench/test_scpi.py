"""What SCPI instruments say, and a supply whose port switch and probes share."""

from contextlib import aclosing
from pathlib import Path
from typing import Any

import pytest
import trio
from bench_tools import open_driver, run_real
from serial_peer import SerialPeer, line_by_line

from soak.bench.readings import Refused
from soak.bench.registry import Tools
from soak.bench.serial.scpi import Identity, parse_error, parse_identity
from soak.records import Reading


@pytest.mark.parametrize(
    ("line", "identity"),
    [
        # IEEE 488.2-1992, 10.14: four fields, an unknown one is ASCII 0
        (b"KITTIWAKE,PS-1,0,0", Identity("KITTIWAKE", "PS-1")),
        (b"KITTIWAKE,PS-1,SN4,1.2\r\n", Identity("KITTIWAKE", "PS-1", "SN4", "1.2")),
        # echo and five fields, as one instrument's manual prints it
        (b"*IDN KITTIWAKE,PS-1,SN4,1.2,7", Identity("KITTIWAKE", "PS-1", "SN4", "1.2, 7")),
        # common practice: one field only, quotes, spaces
        (b"PS-1", Identity("PS-1")),
        (b'"KITTIWAKE", "PS-1"', Identity("KITTIWAKE", "PS-1")),
    ],
)
def test_an_identity_is_read_as_instruments_write_it(line: bytes, identity: Identity) -> None:
    """Missing, extra and unknown fields are no reason to refuse an instrument."""
    assert parse_identity(line) == identity


@pytest.mark.parametrize("line", [b"", b"\r\n", b",,,", b"0,0,0,0", b"*IDN?"])
def test_an_identity_that_says_nothing_is_refused(line: bytes) -> None:
    """An echo or an empty answer is not an instrument."""
    with pytest.raises(Refused):
        parse_identity(line)


@pytest.mark.parametrize(
    ("line", "error"),
    [
        # SCPI-99, volume 2, 21.8
        (b'0,"No error"', (0, "No error")),
        (b'+0,"No error"\n', (0, "No error")),
        (b'-113,"Undefined header;OUTPP"', (-113, "Undefined header;OUTPP")),
        (b"0", (0, "")),
        (b"-222, Data out of range", (-222, "Data out of range")),
    ],
)
def test_an_error_is_read_with_its_number(line: bytes, error: tuple[int, str]) -> None:
    """Quotes and sign are optional in practice."""
    assert parse_error(line) == error


class Supply:
    """A supply with one output and a load that draws 0.5 A."""

    def __init__(self) -> None:
        self.on, self.errors, self.log = False, list[str](), list[str]()

    def __call__(self, request: bytes) -> bytes:
        """Answer one line."""
        command = request.decode().strip()
        self.log.append(command)
        if command.startswith("OUTP O"):
            self.on = command == "OUTP ON"
        answers = {
            "*IDN?": "KITTIWAKE,PS-1,SN4,1.0",
            "SYST:ERR?": self.errors.pop(0) if self.errors else '0,"No error"',
            "OUTP?": str(int(self.on)),
            "MEAS:CURR?": "5.000E-01" if self.on else "0.000E+00",
            "MEAS:VOLT?": "12.01",
        }
        answer = answers.get(command)
        return f"{answer}\n".encode() if answer else b""


def test_switch_and_probes_take_turns_on_one_supply(tmp_path: Path) -> None:
    """Commands and readings on one port never get into one another."""
    supply = Supply()

    async def main(tools: Tools) -> list[float]:
        with SerialPeer(tmp_path / "port", line_by_line(supply)) as peer:
            base = {"driver": "scpi_supply", "port": str(peer.link), "settle_s": 0.0}
            switch = await open_driver("switch", "switch", base, tools)
            fast = {**base, "every_s": 0.05}
            amps = await open_driver("probe.a", "probe", {**fast, "unit": "A"}, tools)
            volts = await open_driver("probe.v", "probe", {**fast, "unit": "V"}, tools)
            found: dict[str, list[float]] = {"probe.a": [], "probe.v": []}

            async def read(probe: Any) -> None:
                async with aclosing(probe.readings()) as stream:
                    async for seen in stream:
                        if isinstance(seen, Reading):
                            found[seen.quantity].append(seen.value)
                            if len(found[seen.quantity]) > 4:
                                return

            async with trio.open_nursery() as nursery:
                nursery.start_soon(read, amps)
                nursery.start_soon(read, volts)
                for number in range(4):
                    await switch.command("1", number % 2 == 0)
                    assert await switch.asked_on("1") is (number % 2 == 0)
            assert switch.identity["serial_number"] == "SN4"
            for instrument in (volts, amps, switch):
                await instrument.aclose()
            assert set(found["probe.v"]) == {12.01}
            return found["probe.a"]

    assert set(run_real(main)) <= {0.0, 0.5}
    for command in ("OUTP ON", "OUTP OFF"):  # each is followed at once by its check
        for index, said in enumerate(supply.log):
            if said == command:
                assert supply.log[index + 1 : index + 3] == ["SYST:ERR?", "OUTP?"]
