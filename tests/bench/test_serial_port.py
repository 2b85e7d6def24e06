"""The serial port on pseudo terminals: one owner, whole lines, vanishing and coming back."""

import os
from contextlib import aclosing
from pathlib import Path
from typing import Any

import pytest
import serial
import trio
from bench_tools import open_driver, run_real
from patience import LIMIT_S
from serial_peer import SerialPeer, line_by_line

from soak.bench.readings import Refused
from soak.bench.registry import Tools
from soak.bench.serial.names import Adapter
from soak.bench.serial.port import SerialSettings, open_port
from soak.bench.serial.wire import Wire, WireFault, _why_not_open
from soak.errors import BenchFault
from soak.records import Reading, State
from soak.states import BLIND


def quick(peer: SerialPeer, **more: Any) -> SerialSettings:
    """Make settings for a peer, with short waits."""
    return SerialSettings(port=str(peer.link), settle_s=0.0, answer_s=0.2, **more)


def test_a_second_owner_in_this_process_is_refused(tmp_path: Path) -> None:
    """Two drivers of different kinds never read from the same port."""

    async def main(tools: Tools) -> None:
        with SerialPeer(tmp_path / "port") as peer:
            first = await open_port("switch", quick(peer), tools, speaks="serial_text")
            with pytest.raises(BenchFault, match=r"probe.x: .* is already taken by switch"):
                await open_port("probe.x", quick(peer), tools, speaks="scpi_meter")
            await first.aclose()

    run_real(main)


def test_another_program_that_has_the_port_is_noticed(tmp_path: Path) -> None:
    """A port that another program opened exclusively is a bench fault saying so."""

    async def main(tools: Tools) -> None:
        with SerialPeer(tmp_path / "port") as peer:
            with (
                serial.Serial(peer.device, exclusive=True),
                pytest.raises(BenchFault, match="in use by another program"),
            ):
                await open_port("switch", quick(peer), tools)
            await (await open_port("switch", quick(peer), tools)).aclose()

    run_real(main)


def test_the_lock_file_refuses_a_second_soak_even_where_the_system_would_not(
    tmp_path: Path,
) -> None:
    """The lock goes by what the adapter is, so another device name does not get round it."""
    with SerialPeer(tmp_path / "one") as one, SerialPeer(tmp_path / "two") as two:
        same = {"usb_id": "1a86:7523", "serial_number": f"test-{os.getpid()}"}
        wire = Wire(Adapter(one.device, **same), 9600, "N", 1)
        with pytest.raises(WireFault, match=f"another soak .process {os.getpid()}."):
            Wire(Adapter(two.device, **same), 9600, "N", 1)
        wire.close()
        wire.close()
        Wire(Adapter(two.device, **same), 9600, "N", 1).close()


def test_drivers_of_one_kind_share_a_port_until_the_last_one_closes(tmp_path: Path) -> None:
    """Closing one user leaves the port to the other."""

    async def main(tools: Tools) -> None:
        with SerialPeer(tmp_path / "port", line_by_line(bytes)) as peer:
            one = await open_port("switch", quick(peer), tools, speaks="modbus_rtu")
            two = await open_port("switch", quick(peer), tools, speaks="modbus_rtu")
            await one.aclose()
            await one.aclose()
            await two.tell(b"still here\n")
            assert await two.answer(b"\n", LIMIT_S) == b"still here\n"
            await two.aclose()
            with serial.Serial(peer.device, exclusive=True):
                pass

    run_real(main)


def test_sharing_with_another_baud_is_refused(tmp_path: Path) -> None:
    """Two fixtures that share a bus must agree how it speaks."""

    async def main(tools: Tools) -> None:
        with SerialPeer(tmp_path / "port") as peer:
            first = await open_port("switch", quick(peer), tools, speaks="modbus_rtu")
            with pytest.raises(BenchFault, match="another baud"):
                await open_port("switch", quick(peer, baud=19200), tools, speaks="modbus_rtu")
            await first.aclose()

    run_real(main)


def test_what_was_said_before_a_question_is_no_answer_to_it(tmp_path: Path) -> None:
    """Old bytes are thrown away before a command is sent."""

    async def main(tools: Tools) -> None:
        with SerialPeer(tmp_path / "port", line_by_line(bytes)) as peer:
            port = await open_port("switch", quick(peer), tools)
            peer.say(b"old answer\n")
            await trio.sleep(0.05)
            await port.tell(b"new\n")
            assert await port.answer(b"\n", LIMIT_S) == b"new\n"
            await port.aclose()

    run_real(main)


def test_a_cancelled_wait_loses_no_byte(tmp_path: Path) -> None:
    """What arrives while nobody waits any more is there for the next who asks."""

    async def main(tools: Tools) -> None:
        with SerialPeer(tmp_path / "port") as peer:
            port = await open_port("probe.x", quick(peer), tools)
            peer.say(b"\n")
            assert await port.line(b"\n", 0.3) is None
            with trio.move_on_after(0.05):
                await port.line(b"\n", 5.0)
            peer.say(b"23.5\n")
            assert await port.line(b"\n", LIMIT_S) == b"23.5"
            await port.aclose()

    run_real(main)


def test_a_line_that_stands_still_in_its_middle_is_dropped_with_its_rest(tmp_path: Path) -> None:
    """An instrument that restarts after `2` and prints `23.5` does not make 223.5."""

    async def main(tools: Tools) -> None:
        with SerialPeer(tmp_path / "port") as peer:
            port = await open_port("probe.x", quick(peer), tools)
            peer.say(b"\n2")
            with pytest.raises(Refused, match="no line end after '2'"):
                await port.line(b"\n", 5.0)
            peer.say(b"23.5\n24.5\n")
            assert await port.line(b"\n", LIMIT_S) == b"24.5"
            await port.aclose()

    run_real(main)


def test_an_answer_without_the_line_end_makes_one_look_at_line_end(tmp_path: Path) -> None:
    """The board did answer: neither cable nor power is to blame, and it is said what came."""

    async def main(tools: Tools) -> None:
        with SerialPeer(tmp_path / "port", line_by_line(lambda sent: b"OK\r")) as peer:
            settings = {"driver": "serial_text", "port": str(peer.link), "line_end": "\n"}
            settings |= {"on": "1", "off": "0", "on_answer": "OK", "off_answer": "OK"}
            settings |= {"settle_s": 0.0, "tries": 1, "answer_s": 0.3}
            switch = await open_driver("switch", "switch", settings, tools)
            with pytest.raises(BenchFault, match=r"only 'OK\\r' came .* '\\n'.*line_end"):
                await switch.command("1", True)
            await switch.aclose()

    run_real(main)


@pytest.mark.parametrize("other", [False, True], ids=["same moment", "after a failed attempt"])
def test_a_switch_finds_its_port_again_under_another_name(tmp_path: Path, other: bool) -> None:
    """After plugging out and in the next command opens the port anew and is answered."""

    async def main(tools: Tools) -> None:
        with SerialPeer(tmp_path / "port", line_by_line(lambda sent: b"OK\n")) as peer:
            settings = {"driver": "serial_text", "port": str(peer.link), "line_end": "\n"}
            settings |= {"on": "1", "off": "0", "on_answer": "OK", "off_answer": "OK"}
            settings |= {"settle_s": 0.0, "tries": 2}
            switch = await open_driver("switch", "switch", settings, tools)
            await switch.command("1", True)
            before = peer.device
            peer.unplug()
            if other:
                with pytest.raises(BenchFault, match=r"switch: commanded off.*there is no port"):
                    await switch.command("1", False)
            keep = [*os.openpty()]  # takes the old name, so that the port returns under another
            peer.plug()
            while peer.device == before:  # some other program had it meanwhile
                peer.unplug()
                keep += os.openpty()
                peer.plug()
            await switch.command("1", False)
            assert peer.heard[-1] == b"0\n"
            await switch.aclose()
            for descriptor in keep:
                os.close(descriptor)

    run_real(main)


def test_a_probe_that_is_pulled_is_blind_and_seen_again_when_it_is_back(tmp_path: Path) -> None:
    """The states are seen, blind (with the reason), seen; no reading is made up in between."""

    async def main(tools: Tools) -> list[Reading | State]:
        found: list[Reading | State] = []
        with SerialPeer(tmp_path / "port") as peer:
            settings = {"driver": "serial_lines", "port": str(peer.link), "settle_s": 0.0}
            settings |= {"pattern": r"(\d+\.\d)"}
            probe = await open_driver("probe.x", "probe", settings, tools)
            async with aclosing(probe.readings()) as stream:
                async for seen in stream:
                    found.append(seen)
                    if len(found) == 1:
                        peer.say(b"\n23.5\n23.")
                    elif isinstance(seen, Reading) and seen.value == 23.5:
                        peer.unplug()
                    elif isinstance(seen, State) and seen.state == BLIND:
                        peer.plug()
                        peer.say(b"50\n")  # the rest of a line: lost in the flush at opening
                        await trio.sleep(0)
                        nursery.start_soon(talk_later, peer)
                    elif isinstance(seen, Reading):
                        break
            await probe.aclose()
        return found

    async def talk_later(peer: SerialPeer) -> None:
        while True:
            await trio.sleep(0.1)
            peer.say(b"24.5\n")

    async def with_nursery(tools: Tools) -> list[Reading | State]:
        nonlocal nursery
        async with trio.open_nursery() as nursery:
            found = await main(tools)
            nursery.cancel_scope.cancel()
        return found

    nursery: trio.Nursery
    found = run_real(with_nursery)
    words = [seen.state if isinstance(seen, State) else seen.value for seen in found]
    assert words == ["seen", 23.5, BLIND, "seen", 24.5]
    blind = found[2]
    assert isinstance(blind, State)
    assert "has vanished" in blind.detail["why"]


def test_what_was_printed_before_the_port_was_opened_is_no_reading(tmp_path: Path) -> None:
    """A terminal that still echoes has told the instrument its own text; all that is dropped."""

    async def main(tools: Tools) -> bytes | None:
        with SerialPeer(tmp_path / "port", line_by_line(lambda said: b""), cooked=True) as peer:
            peer.say(b"98.5\n99.5\n")
            while not peer.heard:
                await trio.sleep(0.01)  # the echo is back at the instrument
            port = await open_port("probe.x", quick(peer), tools)
            peer.say(b"\n24.5\n")
            try:
                return await port.line(b"\n", LIMIT_S)
            finally:
                await port.aclose()

    assert run_real(main) == b"24.5"


def test_an_adapter_that_is_not_there_is_named_with_what_is(tmp_path: Path) -> None:
    """A wrong path is one sentence that says what to do."""

    async def main(tools: Tools) -> None:
        settings = SerialSettings(port=str(tmp_path / "none"))
        with pytest.raises(BenchFault, match=r"there is no port .*none; plug it in or correct"):
            await open_port("switch", settings, tools)

    run_real(main)


@pytest.mark.parametrize(
    ("number", "told"),
    [
        (13, "no permission to open /dev/x; `soak trouble` says what lets you"),
        (16, "/dev/x is in use by another program; end it"),
        (2, "there is no port /dev/x; plug it in"),
        (25, "/dev/x is not a serial port"),
        (5, "/dev/x cannot be opened: could not open port: Input/output error"),
    ],
)
def test_why_a_port_does_not_open_is_told_with_what_to_do(number: int, told: str) -> None:
    """The system's number becomes a sentence for the operator."""
    fault = serial.SerialException(number, f"could not open port: {os.strerror(number)}")
    assert told in _why_not_open("/dev/x", fault)


def test_a_file_that_is_no_port_is_refused(tmp_path: Path) -> None:
    """An ordinary file is not opened as a port."""
    (tmp_path / "file").write_text("23.5\n")

    async def main(tools: Tools) -> None:
        settings = SerialSettings(port=str(tmp_path / "file"))
        with pytest.raises(BenchFault, match="is not a serial port"):
            await open_port("switch", settings, tools)

    run_real(main)
