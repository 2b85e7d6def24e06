"""Every serial driver that asks and is answered: its adapter is pulled and comes back."""

from collections.abc import Callable, Sequence
from contextlib import aclosing
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from bench_tools import open_driver, run_real
from dialogues import as_bytes, kinds, of_kind
from serial_peer import Answer, SerialPeer, line_by_line

from soak.bench.registry import Tools, drivers
from soak.bench.serial.port import SerialSettings
from soak.errors import BenchFault
from soak.records import Reading, State
from soak.states import BLIND


def scpi() -> Answer:
    """Make an instrument that measures 12.5 and whose output obeys."""
    output = [b"0"]

    def answer(line: bytes) -> bytes:
        command = line.strip()
        if command in (b"OUTP ON", b"OUTP OFF"):
            output[0] = b"1" if command == b"OUTP ON" else b"0"
        known = {b"*IDN?": b"KITTIWAKE,X,1,1", b"SYST:ERR?": b"0", b"OUTP?": output[0]}
        return known.get(command, b"12.5") + b"\n" if command.endswith(b"?") else b""

    return line_by_line(answer)


def listed(answers: Sequence[Sequence[str]]) -> Answer:
    """Make an instrument that answers what a dialogue file lists."""
    known = [(as_bytes(sent), as_bytes(said)) for sent, said in answers]

    def take(came: bytes) -> tuple[int, bytes]:
        return next(((len(sent), said) for sent, said in known if came.startswith(sent)), (0, b""))

    return take


PLAYS: dict[tuple[str, str], tuple[dict[str, Any], Callable[[], Answer]]] = {
    ("switch", "scpi_supply"): ({}, scpi),
    ("probe", "scpi_supply"): ({"unit": "V", "every_s": 0.05}, scpi),
} | {
    (entry["role"], kind): (
        {**of_kind(kind)["settings"], **entry.get("settings", {})},
        partial(listed, entry["answers"]),
    )
    for kind in kinds()
    for entry in of_kind(kind).get("pulled", [])
}
"""A supply must remember what it was told; all others answer what their files list."""
TALKS_UNASKED = {("probe", "serial_lines")}
IN_ITS_OWN_TEST = {("button", "serial_press"), ("servo", "serial_servo")}
"""Pulled in test_press_and_servo.py."""


def test_every_serial_driver_is_pulled_here_or_in_its_own_test() -> None:
    """A new serial driver cannot be forgotten."""
    serial = {key for key, found in drivers().items() if issubclass(found.settings, SerialSettings)}
    assert serial == set(PLAYS) | TALKS_UNASKED | IN_ITS_OWN_TEST


def settings(role: str, kind: str, peer: SerialPeer) -> dict[str, Any]:
    """Return the settings of a driver on a peer."""
    more = {"settle_s": 0.0, "answer_s": 2.0}
    return {**PLAYS[role, kind][0], "driver": kind, "port": str(peer.link), **more}


@pytest.mark.parametrize("kind", [kind for role, kind in PLAYS if role == "switch"])
def test_a_pulled_switch_is_a_bench_fault_and_obeys_again_when_it_is_back(
    kind: str, tmp_path: Path
) -> None:
    """No command is taken for obeyed while the adapter is out; none is lost afterwards."""

    async def main(tools: Tools) -> None:
        with SerialPeer(tmp_path / "port", PLAYS["switch", kind][1]()) as peer:
            wired = settings("switch", kind, peer)
            channel = wired.get("channel", "1")
            switch = await open_driver("switch", "switch", wired, tools)
            await switch.command(channel, True)
            peer.unplug()
            with pytest.raises(BenchFault, match=r"commanded off, .* there is no port"):
                await switch.command(channel, False)
            peer.plug()
            told = len(peer.heard)
            await switch.command(channel, False)
            assert len(peer.heard) > told
            await switch.aclose()

    run_real(main)


@pytest.mark.parametrize("kind", [kind for role, kind in PLAYS if role == "load"])
def test_a_pulled_load_is_a_bench_fault_and_obeys_again_when_it_is_back(
    kind: str, tmp_path: Path
) -> None:
    """A load that did not answer was not switched; back again it is."""

    async def main(tools: Tools) -> None:
        with SerialPeer(tmp_path / "port", PLAYS["load", kind][1]()) as peer:
            load = await open_driver("load", "load", settings("load", kind, peer), tools)
            await load.command(True)
            peer.unplug()
            with pytest.raises(BenchFault, match="there is no port"):
                await load.command(False)
            peer.plug()
            told = len(peer.heard)
            await load.command(False)
            assert len(peer.heard) > told
            await load.aclose()

    run_real(main)


@pytest.mark.parametrize("kind", [kind for role, kind in PLAYS if role == "probe"])
def test_a_pulled_probe_is_blind_until_it_is_back(kind: str, tmp_path: Path) -> None:
    """The reason is the port, and the readings go on by themselves."""

    async def main(tools: Tools) -> list[Any]:
        said: list[Any] = []
        with SerialPeer(tmp_path / "port", PLAYS["probe", kind][1]()) as peer:
            probe = await open_driver("probe.x", "probe", settings("probe", kind, peer), tools)
            async with aclosing(probe.readings()) as stream:
                async for seen in stream:
                    if isinstance(seen, State):
                        said.append(seen.state)
                        if seen.state == BLIND:
                            assert "port" in seen.detail["why"] or "vanished" in seen.detail["why"]
                            peer.plug()
                    elif isinstance(seen, Reading) and said[-1] == "seen":
                        said.append(seen.value)
                        if len(said) > 2:
                            break
                        peer.unplug()
            await probe.aclose()
        return said

    assert run_real(main) == ["seen", 12.5, BLIND, "seen", 12.5]
