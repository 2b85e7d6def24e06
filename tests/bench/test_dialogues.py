"""Every serial driver against its dialogue file: the parse alone, then over a pseudo terminal."""

import importlib
from contextlib import aclosing
from pathlib import Path
from typing import Any

import pytest
import trio
from bench_tools import open_driver, run_real, wired
from dialogues import as_bytes, entries
from serial_peer import Play, SerialPeer

from soak.bench.readings import Refused
from soak.bench.registry import Tools, drivers
from soak.bench.serial.text_talk import check_answer
from soak.errors import BenchFault
from soak.records import Reading, State
from soak.states import BLIND

QUICK = {"settle_s": 0.0, "pause_s": 0.0, "answer_s": 20.0, "silent_after_s": 6.0}


def parse(entry: dict[str, Any]) -> Any:
    """Read an answer as the entry's driver does, or check it against what the fixture promises."""
    settings = entry["settings"]
    module = importlib.import_module(f"soak.bench.drivers.{settings['driver']}")
    line, checked = as_bytes(entry["line"]), wired(entry["role"], settings)
    if "sent" in entry:
        return module.parse(line, as_bytes(entry["sent"]))
    if "pressed" in entry or "position" in entry:
        told = entry.get("pressed", entry.get("position"))
        return check_answer(line, module.answer_to(checked, told))
    if "channel" in entry:
        return check_answer(line, module.answer_to(checked, entry["channel"], entry["on"]))
    return (
        module.parse(line) if settings["driver"] == "scpi_supply" else module.parse(line, checked)
    )


@pytest.mark.parametrize("entry", list(entries("parse")))
def test_each_answer_is_read_or_refused_as_listed(entry: dict[str, Any]) -> None:
    """An answer yields its value, or is refused with the reason."""
    if "refused" not in entry:
        value = parse(entry)
        assert value == pytest.approx(entry.get("value"), abs=1e-12)
        return
    with pytest.raises(Refused) as refusal:
        parse(entry)
    assert entry["refused"] in str(refusal.value)


async def act(instrument: Any, deeds: list[str]) -> list[float | str]:
    """Command or read; return the readings, and the reason of a blindness."""
    found: list[float | str] = []
    for deed in deeds:
        verb, *how = deed.split()
        if verb in ("on", "off"):
            await instrument.command(instrument._wired.channel, verb == "on")
        elif verb == "press":
            await instrument.press(float(how[0]))
        elif verb == "move":
            await instrument.move(how[0], float(how[1]))
        elif verb == "volt":
            found.append(await instrument.set_voltage(instrument._wired.channel, float(how[0])))
        elif verb == "fed":
            found.append(await instrument.fed_v(instrument._wired.channel))
        elif verb == "break":
            await instrument.interrupt(instrument._wired.channel, float(how[0]))
        elif verb in ("release", "rest"):
            await getattr(instrument, verb)()
    reads = [deed for deed in deeds if deed in ("read", "blind")]
    if reads:
        async with aclosing(instrument.readings()) as stream:
            first = await anext(stream)
            assert isinstance(first, State)
            assert first.state == "seen"
            async for seen in stream:
                if isinstance(seen, Reading):
                    found.append(seen.value)
                elif seen.state == BLIND and "blind" in reads:
                    found.append(seen.detail["why"])
                if len(found) == len(reads):
                    break
    return found


async def say_slowly(peer: SerialPeer, pieces: list[str]) -> None:
    """Send pieces with a little time between, as a slow instrument does."""
    for piece in pieces:
        if piece.startswith("wait "):
            await trio.sleep(float(piece[5:]))
        else:
            peer.say(as_bytes(piece))
            await trio.sleep(0.02)


@pytest.mark.parametrize("entry", list(entries("dialogue")))
def test_each_dialogue_ends_as_listed_over_a_terminal(
    entry: dict[str, Any], tmp_path: Path
) -> None:
    """The driver sends just what is listed, and makes of the answers what is listed."""
    repeats = entry.get("repeats", False)
    play = Play(
        [(as_bytes(sent), as_bytes(said)) for sent, said in entry.get("steps", [])], repeats
    )

    async def main(tools: Tools) -> tuple[Any, list[float | str]]:
        with SerialPeer(tmp_path / "port", play) as peer:
            known = drivers()[entry["role"], entry["settings"]["driver"]].settings.model_fields
            quick = {key: value for key, value in QUICK.items() if key in known}
            settings = {**quick, **entry["settings"], "port": str(peer.link)}
            instrument = await open_driver("device", entry["role"], settings, tools)
            async with trio.open_nursery() as nursery:
                nursery.start_soon(say_slowly, peer, entry.get("says", []))
                try:
                    return instrument.identity, await act(instrument, entry["do"])
                finally:
                    await instrument.aclose()

    if "fault" in entry:
        with pytest.raises((BenchFault, ExceptionGroup)) as fault:
            run_real(main)
        raised = fault.value
        while isinstance(raised, ExceptionGroup):
            raised = raised.exceptions[0]
        assert isinstance(raised, BenchFault)
        assert entry["fault"] in raised.what
    else:
        identity, found = run_real(main)
        assert found == entry.get("values", [entry["why"]] if "why" in entry else []) or (
            "why" in entry and entry["why"] in found[0]
        )
        assert {**identity, **entry.get("identity", {})} == identity
    assert (play.left[repeats:], play.wrong) == ([], [])
