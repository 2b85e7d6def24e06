"""The last off of a soak without a capture: a supply current that ends shows it."""

import sys
from pathlib import Path

import pytest
from short_soak import soak

sys.path.insert(0, str(Path(__file__).parent))
from small_bench import FIXTURE, Faults, World, run_small_soak

SWITCH = '[switch]\ndriver = "simulated"\n'
CURRENT = '[probe.supply]\ndriver = "simulated"\nunit = "A"\nevery_s = 1.0\n'
HEAT = '[probe.heatsink]\ndriver = "simulated"\nspot = "heatsink"\n'
WELDED = {"bench": {"relay": {"fault": "welded", "at_s": [300.0, 301.0]}}}


@pytest.mark.parametrize(
    ("fixture", "scene", "last"),
    [
        (SWITCH + CURRENT + HEAT, {}, "off proved"),
        (SWITCH + CURRENT + HEAT, WELDED, "alarm"),
        (SWITCH + HEAT, {}, "off not proved"),
    ],
)
def test_a_current_that_ends_proves_the_last_off_and_one_that_does_not_calls_a_person(
    tmp_path, fixture, scene, last
):
    """A bench that cannot see it says so once, before anything is on, and calls nobody at night."""
    found = soak(tmp_path, fixture, {"spots": {}}, scene, "10 min")
    assert found.marks[-1].what == last
    said = [mark for mark in found.marks if mark.what == "hand needed"]
    assert [mark.t_s for mark in said] == ([0.0] if last == "off not proved" else [])
    assert "alarm" not in [mark.what for mark in found.marks] or last == "alarm"
    if last == "off proved":
        assert found.marks[-1].detail["by"] == "probe.supply"


@pytest.mark.parametrize("no_picture", ["no signal", "stalled"])
def test_a_device_that_has_not_come_yet_proves_no_off_whatever_the_card_delivers_meanwhile(
    no_picture,
):
    """Left amid a start, by a relay that is welded: the unit comes up, and a person is called."""
    linked = {**FIXTURE, "link": {"driver": "test", "port": "usb1"}}
    faults = Faults(welded_from_s=0.5, stop_at_s=1.0)
    plain = {"name": "it", "not_after": "1 h", "stretch": [{"name": "on", "spots": {}}]}
    plain["stretch"][0]["lasts"] = "5 min"
    world = World(faults, no_picture=no_picture)
    marks = run_small_soak(faults, plain, linked, told=world).marks
    assert "off proved" not in [mark.what for mark in marks]
    assert marks[-1].what == "alarm"
