"""The real drivers of button and servo over a pseudo terminal: they let go whatever happens."""

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
import trio
from bench_tools import open_driver, run_real
from serial_peer import SerialPeer, line_by_line

from soak.bench.fixture import read_fixture
from soak.bench.registry import Tools
from soak.errors import BenchFault, FixtureError

PRESS = {"driver": "serial_press", "press": "P", "release": "R", "settle_s": 0.0, "answer_s": 20.0}
SERVO = {
    "driver": "serial_servo",
    "at_port": "video",
    "move": "M{position}",
    "move_answer": "OK",
    "rest": "0",
    "positions": {"left": "1"},
    "settle_s": 0.0,
    "answer_s": 20.0,
}
ANSWERS = {"press_answer": "OK", "release_answer": "OK"}


def ok(request: bytes) -> bytes:
    return b"OK\r\n"


def heard(peer: SerialPeer) -> list[str]:
    return [line.decode().strip() for line in peer.heard]


def played(tmp_path: Path, role: str, settings: dict[str, Any], act: Callable[..., Any]) -> list:
    """Let `act(instrument, peer)` act on a driver; return what the board was told in the end."""

    async def main(tools: Tools) -> list[str]:
        with SerialPeer(tmp_path / "port", line_by_line(ok)) as peer:
            told = {**settings, "port": str(peer.link)}
            instrument = await open_driver(role, role, told, tools)
            try:
                await act(instrument, peer)
            finally:
                await instrument.aclose()
                await instrument.aclose()
            return heard(peer)

    return run_real(main)


HOLDS = {"button": "P", "servo": "M1"}


async def cancelled_once(peer, word, deed, first=lambda: None):
    """Do something; cancel it once the board was told a word, and something else was done."""
    async with trio.open_nursery() as nursery:
        nursery.start_soon(deed)
        while word not in heard(peer):
            await trio.sleep(0.01)
        await trio.to_thread.run_sync(first)
        nursery.cancel_scope.cancel()


def test_a_press_that_is_cancelled_is_let_go_of(tmp_path):
    """Ctrl-C while the button is held: held on, it would cut the unit off hard."""

    async def act(button, peer):
        await cancelled_once(peer, "P", lambda: button.press(60.0))

    assert played(tmp_path, "button", PRESS | ANSWERS, act) == ["R", "P", "R"]


def test_a_movement_that_is_cancelled_goes_back_to_rest(tmp_path):
    """Whatever ends a movement, the plug is left alone."""

    async def act(servo, peer):
        await cancelled_once(peer, "M1", lambda: servo.move("left", 60.0))

    assert played(tmp_path, "servo", SERVO, act) == ["M0", "M1", "M0"]


@pytest.mark.parametrize(
    ("role", "settings", "deed", "again"),
    [
        ("button", PRESS | ANSWERS, lambda one: one.press(60.0), lambda one: one.release()),
        ("servo", SERVO, lambda one: one.move("left", 60.0), lambda one: one.rest()),
    ],
)
def test_an_adapter_pulled_meanwhile_is_a_bench_fault_and_found_again(
    tmp_path, role, settings, deed, again
):
    """Pulled while it holds: nothing can be said to it, and back under its name it obeys."""

    async def act(instrument, peer):
        async def held():
            with suppress(BenchFault):
                await deed(instrument)

        await cancelled_once(peer, HOLDS[role], held, peer.unplug)
        with pytest.raises(BenchFault):
            await again(instrument)
        peer.plug()
        await again(instrument)

    assert played(tmp_path, role, settings, act)[-1] in ("R", "M0")


FIXTURE = """
name = "bench"
[switch]
driver = "serial_text"
port = "/dev/ttyUSB0"
on = "ON"
off = "OFF"
"""
BUTTON = '[button]\ndriver = "serial_press"\npress = "P"\nrelease = "R"\nport = "/dev/{}"\n'
LOAD = """[load]
driver = "serial_text"
port = "/dev/ttyUSB0"
channel = "2"
on = "ON2"
off = "OFF2"
current_a = 0.5
"""
AXIS = """[servo]
driver = "serial_servo"
at_port = "video"
move = "M{position}"
rest = "0"
port = "/dev/ttyUSB1"
"""


@pytest.mark.parametrize(
    ("entry", "key", "what"),
    [
        (BUTTON.format("ttyUSB0"), "button.port", "which the guard keeps to itself"),
        (LOAD, "load.port", "which the guard keeps to itself"),
        (BUTTON.replace('"R"', '"P"').format("ttyUSB1"), "button", "could never let go"),
        (AXIS + 'positions = { sideways = "1" }\n', "servo.positions", "up, down, left"),
        (AXIS + 'positions = { left = "0" }\n', "servo", "where the plug rests"),
        (AXIS.replace("M{position}", "M") + 'positions = { left = "1" }', "servo", "{position}"),
        (
            AXIS.replace('at_port = "video"\n', "") + 'positions = { left = "1" }',
            "servo.at_port",
            "is missing",
        ),
    ],
)
def test_a_wrong_entry_is_refused_in_one_sentence(tmp_path, entry, key, what):
    """File, key path and what to do, before anything is opened."""
    file = tmp_path / "bench.toml"
    file.write_text(FIXTURE + entry)
    with pytest.raises(FixtureError, match=key) as fault:
        read_fixture(file)
    assert what in str(fault.value)
    assert "\n" not in str(fault.value)
