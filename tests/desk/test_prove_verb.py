"""The verb `prove` on a bench with a presser and a room: what it says of each."""

import shutil
from collections.abc import AsyncIterator
from pathlib import Path

import pytest
import trio
from wiggled_bench import ROOT

from soak.clock import LeapingClock
from soak.desk.prove import prove
from soak.records import Reading
from soak.run.proving_more import room

BUTTON = '[button]\ndriver = "simulated"\n'
SCENE = 'truth = "good"\ntruth_grade = "ready"\nfault = "none"\n[button]\n'


def proved(folder: Path, capsys, button: str, scene: str = "") -> list[str]:
    """Prove a simulated fixture with a presser; return the lines of the steps."""
    models = folder / "fixtures" / "models"
    models.mkdir(parents=True)
    shutil.copy(ROOT / "fixtures" / "models" / "ferrow-sp-40.toml", models)
    with (models / "ferrow-sp-40.toml").open("a") as sheet:
        sheet.write(f"\n[button]\nstops = true\n{button}")
    (folder / "scene.toml").write_text(SCENE + scene)
    plain = (ROOT / "fixtures" / "simulated" / "good.toml").read_text()
    text = plain.replace('simulated = "good"', f'simulated = "{folder / "scene.toml"}"')
    (folder / "fixtures" / "left.toml").write_text(f"{text}\n{BUTTON}")
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


class Room:
    """Stands for a stand whose probe at ambient reads one value."""

    def __init__(self, degc: float | None) -> None:
        self.fixture = {"probe": {"room": {"spot": "ambient", "unit": "degC"}}}
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
