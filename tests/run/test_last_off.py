"""The last off of a soak without a capture: a supply current that ends shows it."""

import pytest
from short_soak import soak

SWITCH = '[switch]\ndriver = "simulated"\n'
CURRENT = '[probe.supply]\ndriver = "simulated"\nunit = "A"\nevery_s = 1.0\n'
HEAT = '[probe.heatsink]\ndriver = "simulated"\nspot = "heatsink"\n'
WELDED = {"bench": {"relay": {"fault": "welded", "at_s": [300.0, 301.0]}}}


@pytest.mark.parametrize(
    ("fixture", "scene", "last"),
    [
        (SWITCH + CURRENT + HEAT, {}, "off proved"),
        (SWITCH + CURRENT + HEAT, WELDED, "alarm"),
        (SWITCH + HEAT, {}, "alarm"),
    ],
)
def test_a_current_that_ends_proves_the_last_off_and_one_that_does_not_calls_a_person(
    tmp_path, fixture, scene, last
):
    """Without a probe of it nothing sees the unit go, and that is an alarm as before."""
    found = soak(tmp_path, fixture, {"spots": {}}, scene, "10 min")
    assert found.marks[-1].what == last
    if last == "off proved":
        assert found.marks[-1].detail["by"] == "probe.supply"
