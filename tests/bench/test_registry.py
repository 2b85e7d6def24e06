"""Opening and closing the instruments of a fixture, whatever happens."""

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, ClassVar, Literal

import pytest
import trio
from bench_tools import run_leaping

from soak.bench.registry import CLOSING_LIMIT_S, Driver, Tools, driver, open_instruments
from soak.errors import BenchFault
from soak.frozen.fixture import Fixture
from soak.frozen.wiring import ProbeWired, SwitchWired


class Wire(ProbeWired):
    driver: Literal["fake"]
    fails: str = ""


class Power(SwitchWired):
    driver: Literal["fake"]


@dataclass
class Log:
    """What happened, in order."""

    said: list[str] = field(default_factory=list)


class Fake:
    identity: ClassVar[Any] = {}

    def __init__(self, name: str, log: Log, fails: str) -> None:
        self.name, self.log, self.fails = name, log, fails

    async def aclose(self) -> None:
        if self.fails == "hangs at closing":
            await trio.sleep_forever()
        await trio.sleep(1)  # a cancelled soak must still get here
        self.log.said.append(f"closed {self.name}")
        if self.fails == "fails at closing":
            raise OSError("cable burnt")


def fakes(log: Log) -> dict[tuple[Any, str], Driver]:
    """Make drivers that write down what is opened and closed."""

    async def opener(name: str, wired: Any, tools: Tools) -> Any:
        """Open a fake."""
        fails = getattr(wired, "fails", "")
        if fails == "does not open":
            raise OSError(5, "broken")
        if fails == "opens slowly":
            await trio.sleep_forever()
        log.said.append(f"opened {name}")
        return Fake(name, log, fails)

    return {
        ("probe", "fake"): driver("probe", "fake", Wire)(opener),
        ("switch", "fake"): driver("switch", "fake", Power)(opener),
    }


def fixture(**fails: str) -> Fixture:
    """Make a fixture with a switch and probes that fail as told."""
    probes = {f"probe.{name}": Wire(driver="fake", fails=how) for name, how in fails.items()}
    return Fixture("jig", "jig.toml", wired={"switch": Power(driver="fake"), **probes})


def play(wired: Fixture, inside: Callable[[Any], Any] = lambda found: None) -> Log:
    """Open the fixture, do something inside, close it."""
    log = Log()

    async def main(tools: Tools) -> None:
        async with open_instruments(wired, tools, fakes(log)) as found:
            log.said.append("inside")
            await trio.lowlevel.checkpoint()
            inside(found)

    try:
        run_leaping(main)
    except Exception as fault:
        log.said.append(str(fault))
    return log


def test_instruments_are_closed_in_reverse_and_the_switch_last() -> None:
    """The unit's power stays under control until everything else is gone."""
    log = play(fixture(a="", b=""))
    assert log.said == [
        "opened switch",
        "opened probe.a",
        "opened probe.b",
        "inside",
        "closed probe.b",
        "closed probe.a",
        "closed switch",
    ]


def test_probes_stand_under_the_name_of_their_source() -> None:
    """What is opened is found by the name its states carry."""
    seen: list[Any] = []
    play(fixture(a=""), lambda found: seen.append((list(found.probes), found.switch.name)))
    assert seen == [(["probe.a"], "switch")]


def test_one_that_does_not_open_is_named_and_the_others_are_closed() -> None:
    """A half-opened bench is closed again."""
    log = play(fixture(a="", b="does not open"))
    assert log.said == [
        "opened switch",
        "opened probe.a",
        "closed probe.a",
        "closed switch",
        "probe.b: cannot be opened by fake: [Errno 5] broken",
    ]


def test_a_cancelled_soak_still_closes_everything() -> None:
    """Closing is shielded: it may wait although the soak was cancelled."""
    log = Log()

    async def main(tools: Tools) -> None:
        with trio.move_on_after(3):
            async with open_instruments(fixture(a=""), tools, fakes(log)):
                await trio.sleep_forever()

    run_leaping(main)
    assert log.said[-2:] == ["closed probe.a", "closed switch"]


def test_cancelling_while_opening_closes_what_is_open() -> None:
    """Ctrl-C during a slow opening leaves nothing open."""
    log = Log()

    async def main(tools: Tools) -> None:
        with trio.move_on_after(3):
            async with open_instruments(fixture(a="", b="opens slowly"), tools, fakes(log)):
                raise AssertionError

    run_leaping(main)
    assert log.said[-2:] == ["closed probe.a", "closed switch"]


def test_one_that_fails_at_closing_does_not_keep_the_others_open() -> None:
    """The fault is told after everything is closed."""
    log = play(fixture(a="", b="fails at closing"))
    assert log.said[-3:] == [
        "closed probe.a",
        "closed switch",
        "probe.b: did not close: cable burnt",
    ]


def test_one_that_hangs_at_closing_is_left_behind() -> None:
    """The exit waits only so long."""
    log = play(fixture(b="hangs at closing"))
    assert log.said[-2] == "closed switch"
    assert f"did not close within {CLOSING_LIMIT_S:g} s" in log.said[-1]


def test_a_fault_inside_is_not_hidden_by_one_at_closing() -> None:
    """What went wrong first is what the operator reads."""

    def fail(found: Any) -> None:
        raise BenchFault("capture", "wedged")

    assert play(fixture(b="fails at closing"), fail).said[-1] == "capture: wedged"


def test_settings_of_another_role_are_refused() -> None:
    """A driver cannot be registered with settings that the fixture reader would not expect."""
    with pytest.raises(TypeError, match="Wire does not derive from SwitchWired"):
        driver("switch", "fake", Wire)


def test_a_file_in_the_drivers_folder_is_enough() -> None:
    """No list has to be edited: each driver file is found."""
    from soak.bench.registry import drivers

    folder = Path(__file__).parents[2] / "soak" / "bench" / "drivers"
    files = {file.stem for file in folder.glob("*.py")} - {"__init__"}
    assert {kind for _, kind in drivers()} == files
