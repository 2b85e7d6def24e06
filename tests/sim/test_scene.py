"""Scenes: the ones that ship, and mistakes in one's own."""

from pathlib import Path

import pytest

from soak.bench.fixture import read_fixture
from soak.bench.model_sheet import read_model_sheet
from soak.errors import FixtureError
from soak.sim.instruments import simulated_drivers
from soak.sim.samples import MODEL_SHEET_NAME, fixture_text, model_sheet_text
from soak.sim.scene import read_scene, scene_names

FIXTURES = Path(__file__).parents[2] / "fixtures"
GOOD = 'truth = "t"\ntruth_grade = "ready"\nfault = "none"\n'

MISTAKES = {
    "misspelt key": ("[start]\nwarm_ss = 3\n", "start.warm_ss", "warm_s"),
    "misspelt section": ("[rooom]\nmean_degc = 20\n", "rooom", "room"),
    "unknown spot": ('[data.damage]\nspot = "heatsnik"\n', "heatsnik", "heatsink"),
    "share above one": ("[start]\nfails_warm = 1.5\n", "start.fails_warm", "less than or equal"),
    "range upside down": (
        '[interruption]\nafter_s = ["2 h", "1 h"]\n',
        "after_s",
        "lower one first",
    ),
    "range of one": ("[interruption]\nafter_s = [5]\n", "interruption.after_s", "missing"),
    "no duration": ('[bench.adapter_vanishes]\nat_s = [1, 2]\nfor_s = "soon"\n', "for_s", "soon"),
    "text for a number": ('[room]\nmean_degc = "warm"\n', "room.mean_degc", "number"),
    "unknown fault of a relay": (
        '[bench.relay]\nfault = "sticky"\nat_s = [1, 2]\n',
        "fault",
        "welded",
    ),
    "an instant fault": ("[data.damage]\nlasts_s = [0, 1]\n", "data.damage", "longer than 0"),
}


@pytest.mark.parametrize("name", scene_names())
def test_each_scene_that_ships_can_be_read_and_wired(name: str, tmp_path: Path) -> None:
    """Each scene has truth and grade, and a fixture of all instruments fits it and its model."""
    scene = read_scene(name)
    assert scene.name == name
    file = tmp_path / "fixture.toml"
    file.write_text(fixture_text(name))
    sheet = tmp_path / MODEL_SHEET_NAME
    sheet.write_text(model_sheet_text())
    fixture = read_fixture(file, read_model_sheet(sheet), simulated_drivers(scene, 1))
    wired = {role for _, role, _ in fixture.entries()}
    assert wired == {"switch", "capture", "network", "stick", "probe"}
    assert fixture.simulated == name


def test_the_demo_has_a_unit_of_every_kind_of_fault() -> None:
    """Good units and faults of every port, of starts, heat and restarts ship with the program."""
    faults = {read_scene(name).fault for name in scene_names()}
    assert {"none", "video", "usb", "network", "starts", "heat", "restarts"} <= faults


@pytest.mark.parametrize(("text", "where", "says"), MISTAKES.values(), ids=list(MISTAKES))
def test_a_mistake_in_a_scene_is_one_sentence(
    text: str, where: str, says: str, tmp_path: Path
) -> None:
    """A wrong key or value names the file, the place and what would be right."""
    file = tmp_path / "mine.toml"
    file.write_text(GOOD + text)
    with pytest.raises(FixtureError) as fault:
        read_scene(str(file))
    message = str(fault.value)
    assert message.startswith(str(file))
    assert where in message
    assert says in message
    assert "\n" not in message


def test_a_misspelt_scene_names_the_nearest() -> None:
    """A scene that does not exist is answered with the one that was meant."""
    with pytest.raises(FixtureError, match="did you mean overheats"):
        read_scene("overheat")


def test_a_missing_file_says_so() -> None:
    """A path without a file is a fixture error, not a traceback."""
    with pytest.raises(FixtureError, match="there is no such scene"):
        read_scene("nowhere/mine.toml")


def test_the_sample_files_are_the_packages_own() -> None:
    """The commented samples under fixtures are the texts that an installed program writes."""
    sheet = FIXTURES / "models" / MODEL_SHEET_NAME
    assert sheet.read_text(encoding="utf-8") == model_sheet_text()
    for file in (FIXTURES / "simulated").glob("*.toml"):
        assert file.read_text(encoding="utf-8") == fixture_text(file.stem)


def test_the_model_sheet_leaves_functions_without_a_check() -> None:
    """The second port and the sound are there, and nothing exercises them."""
    sheet = read_model_sheet(FIXTURES / "models" / MODEL_SHEET_NAME)
    untested = {name for name, function in sheet.functions.items() if not function.check}
    assert untested == {"usb2", "sound"}
    assert not any(sheet.functions[name].key for name in untested)
