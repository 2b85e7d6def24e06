"""The verb `prove` on a bench with a presser and a room: what it says of each."""

import shutil
from collections.abc import AsyncIterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest
import trio
from headers import fixture_of
from one_unit_bench import bench_with_k1
from wiggled_bench import ROOT

from soak.clock import LeapingClock
from soak.desk import units
from soak.desk.bench_folder import BenchFolder
from soak.desk.orders import Order, prepare
from soak.desk.proof.prove import prove, proved_by
from soak.desk.units import open_ledger
from soak.errors import UsageError
from soak.frozen.shape import as_json
from soak.records import Reading
from soak.run.proving_more import room, what_each_is
from soak.run.script import find_script, read_script
from soak.run.stand import Step

CAPTURE = '[capture]\ndriver = "simulated"\nport = "video"\n'
SWITCH = '[switch]\ndriver = "simulated"\n'

BUTTON = '[button]\ndriver = "simulated"\n'
SCENE = 'truth = "good"\ntruth_grade = "ready"\nfault = "none"\n[button]\n'


def proved(
    folder: Path, capsys, button: str, scene: str = "", wired: str = f"\n{BUTTON}"
) -> list[str]:
    """Prove a simulated fixture, by itself with a presser; return the lines of the steps."""
    models = folder / "fixtures" / "models"
    models.mkdir(parents=True)
    shutil.copy(ROOT / "fixtures" / "models" / "ferrow-sp-40.toml", models)
    with (models / "ferrow-sp-40.toml").open("a") as sheet:
        sheet.write(f"\n[button]\nstops = true\n{button}")
    (folder / "scene.toml").write_text(SCENE + scene)
    plain = (ROOT / "fixtures" / "simulated" / "good.toml").read_text()
    text = plain.replace('simulated = "good"', f'simulated = "{folder / "scene.toml"}"')
    (folder / "fixtures" / "left.toml").write_text(f"{text}{wired}")
    prove(folder, "left", "ferrow-sp-40")
    return [line for line in capsys.readouterr().err.splitlines() if line[:2] in ("+ ", "x ", "- ")]


def test_a_presser_that_reaches_the_button_is_proved(tmp_path, capsys):
    """Pressed off at the end, and seen to go."""
    found = proved(tmp_path, capsys, "stop_held_s = 0.5\n")
    assert found[-1].startswith("+ button")
    assert "seen by capture" in found[-1]


def test_a_unit_that_stays_off_is_pressed_on_wherever_it_is_switched_on(tmp_path, capsys):
    """Else neither the picture nor the warmth of a good unit would be proved."""
    found = proved(tmp_path, capsys, "stays_off = true\n", "stays_off = true\n")
    assert [line for line in found if line.startswith("x")] == []
    assert any("switch on: picture" in line for line in found)


def test_a_presser_that_does_not_reach_it_is_not_proved(tmp_path, capsys):
    """The unit stays on: it asks whether the button is reached and held as long as it wants."""
    found = proved(tmp_path, capsys, 'stop_limit_s = "20 s"\n', "hangs = 1.0\n")
    assert found[-1].startswith("x button")
    assert "does it reach the button" in found[-1]


LOAD = """
[load]
driver = "simulated"
at_port = "usb1"
current_a = 0.5
[probe.usb5v]
driver = "simulated"
unit = "V"
at_port = "usb1"
accuracy = 0.02
"""


@pytest.mark.parametrize(("ohm", "sign"), [(0.2, "+"), (0.0, "x")])
def test_a_load_is_proved_by_the_voltage_that_falls(tmp_path, capsys, ohm, sign):
    """An open resistor behind a relay that answers draws nothing."""
    scene = f"[port_supply]\nohm = {ohm}\n"
    (found,) = [
        line for line in proved(tmp_path, capsys, "", scene, LOAD) if "put the load on" in line
    ]
    assert found.startswith(f"{sign} load")
    assert ("is its resistor whole?" in found) == (sign == "x")


class Room:
    """Stands for a stand whose probe at ambient reads one value."""

    def __init__(self, degc: float | None) -> None:
        self.fixture = fixture_of({"probe": {"room": {"spot": "ambient", "unit": "degC"}}})
        self._degc = degc

    def following(self, source: str):
        from contextlib import aclosing

        async def readings() -> AsyncIterator[Reading]:
            if self._degc is not None:
                yield Reading(1.0, source, self._degc)
            await trio.sleep_forever()

        return aclosing(readings())


@pytest.mark.parametrize(
    ("degc", "result", "words"),
    [
        (21.5, "proved", "21.5 °C"),
        (70.7, "not proved", "degF"),  # 21.5 degC printed in degF: 21.5 * 9 / 5 + 32
        (None, "not proved", "no reading"),
    ],
)
def test_degrees_fahrenheit_are_no_room(degc, result, words):
    """Given as degC they would make every limit and trip meaningless."""
    (step,) = trio.run(room, Room(degc), clock=LeapingClock())
    assert step.result == result
    assert words in step.seen


def bench_of_k1(folder: Path) -> BenchFolder:
    """Make a bench with one unit, K1, on a simulated fixture that has a capture alone."""
    bench_with_k1(folder, 'name = "one"\nsimulated = "good"\n' + SWITCH + CAPTURE)
    return BenchFolder(folder)


def frozen(bench: BenchFolder, tag: str, fixture: str = "left.toml", days: float = 0) -> dict:
    """Return what the header of a soak would say was proved of a unit, so many days later."""
    ledger, when = open_ledger(bench.path), datetime.now(UTC) + timedelta(days=days)
    order = Order(tag, Path(fixture))
    script = read_script(find_script("quick", bench.path))
    proved = prepare(bench, ledger, script, order, when).wanted.references.proved
    return {} if proved is None else as_json(proved)


def test_what_was_proved_on_a_unit_is_frozen_for_soaks_of_it_alone(tmp_path, capsys):
    """For seven days, and not for another unit on the same fixture."""
    bench = bench_of_k1(tmp_path)
    units.add(bench.path, "SP40-2", model="ferrow-sp-40", tag="K2", bought="", by="", anyway=False)
    assert prove(bench.path, "left", "", "SP40-1") == 0
    assert "MIND" not in capsys.readouterr().err
    told = frozen(bench, "K1")
    assert told["by"] == {"capture": "switch off", "switch": "switch off"}
    assert set(told["is"]) == {"capture", "switch"}
    assert frozen(bench, "K1", days=6.9)
    assert not frozen(bench, "K1", days=7.1)
    assert not frozen(bench, "K2")


def test_a_fixture_that_says_something_else_since_was_not_proved(tmp_path):
    """Another port, another spot: what was seen then says nothing of now."""
    bench = bench_of_k1(tmp_path)
    prove(bench.path, "left", "", "K1")
    file = bench.path / "fixtures" / "left.toml"
    file.write_text(file.read_text() + 'cable = "B7"\n')
    assert not frozen(bench, "K1")


def test_without_a_unit_nothing_is_proved_of_any(tmp_path, capsys):
    """The bench can see; of which unit nobody said."""
    bench = bench_of_k1(tmp_path)
    assert prove(bench.path, "left", "ferrow-sp-40") == 0
    assert "MIND: no --unit was named" in capsys.readouterr().err
    assert not frozen(bench, "K1")


def test_neither_unit_nor_model_is_one_sentence(tmp_path):
    """It says what to give."""
    bench = bench_of_k1(tmp_path)
    with pytest.raises(UsageError, match="--unit UNIT"):
        prove(bench.path, "left", "")


def test_what_failed_a_step_is_not_proved_by_another():
    """A probe that warms and reads no room is not believed; a ride-through costs nothing."""
    steps = [
        Step("switch off", "no signal", "proved", "capture"),
        Step("power off for 100 ms", "nothing", "not proved", "capture", challenge=True),
        Step("warm up with power on", "23 to 25", "proved", "probe.outside"),
        Step("what it is", "an ordinary file, no instrument", "not proved", "probe.outside"),
    ]
    assert proved_by(steps) == {"capture": "switch off", "switch": "switch off"}


def test_what_is_no_instrument_is_named_first():
    """Whatever it does then proves nothing."""
    entry = {"identity": {"nature": "pseudo-terminal"}}
    stand = SimpleNamespace(fixture=fixture_of({"switch": entry, "capture": {"identity": {}}}))
    [step] = trio.run(what_each_is, stand)
    assert (step.source, step.result) == ("switch", "not proved")
    assert step.seen == "a pseudo-terminal, no instrument"
