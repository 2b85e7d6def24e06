"""The verb `reseat`: its script, and what it refuses before anybody moves a plug."""

import shutil
from pathlib import Path

import pytest

from soak.checks.base import all_checks
from soak.desk import units
from soak.desk.hands.reseat import Reseating, reseat, script_of
from soak.errors import LedgerError, UsageError
from soak.run.script import script_from

SHEET = Path(__file__).parents[2] / "fixtures" / "models" / "ferrow-sp-40.toml"
WATCHED = 'name = "left"\n[link]\ndriver = "usb_link"\ndevice = "1209:0002"\nport = "usb1"\n'


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """Make a bench folder with one unit and its fixture."""
    (tmp_path / "fixtures" / "models").mkdir(parents=True)
    shutil.copy(SHEET, tmp_path / "fixtures" / "models")
    (tmp_path / "fixtures" / "left.toml").write_text(WATCHED)
    simulated = 'name = "s"\nsimulated = "good"\n[link]\ndriver = "simulated"\nport = "usb1"\n'
    (tmp_path / "fixtures" / "sim.toml").write_text(simulated)
    units.add(tmp_path, "SN1", model="ferrow-sp-40", tag="S1")
    return tmp_path


def test_its_script_is_a_soak_of_one_attended_stretch():
    """Checked like any other script; the settings are those that were typed."""
    what = Reseating("usb1", times=7, new_plug_times=2, type_c=True, at_least_speed_mbps=5000.0)
    script = script_from(script_of(what), "soak reseat", all_checks())
    (stretch,) = script.stretches
    assert stretch.attended
    settings = stretch.checks["reseat"]
    assert (settings.times, settings.new_plug_times, settings.type_c) == (7, 2, True)
    assert settings.at_least_speed_mbps == 5000.0


@pytest.mark.parametrize(
    ("unit", "port", "error", "what"),
    [
        ("S1@left.toml", "usb2", UsageError, "it watches usb1"),
        ("S1@sim.toml", "usb1", UsageError, "a simulated fixture has no hand"),
        ("S9@left.toml", "usb1", LedgerError, "S9"),
        ("S1", "usb1", UsageError, "UNIT@FIXTURE"),
    ],
)
def test_what_cannot_be_reseated_is_refused_in_one_sentence(bench, unit, port, error, what):
    """Nothing is opened and nobody is asked to move anything."""
    with pytest.raises(error, match=what) as fault:
        reseat(bench, unit, Reseating(port))
    assert "\n" not in str(fault.value)
