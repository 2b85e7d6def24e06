"""The demands at spots: which there are, from fixture, model sheet and settings."""

import pytest
from headers import placed

from soak.checks.spots import Spots, SpotsSettings

SPOTS = {
    "heatsink": {"text": "heatsink", "limit_degc": 80.0, "rise_limit_k": None, "trip_degc": 90.0},
    "outside": {"text": "case", "limit_degc": 60.0, "rise_limit_k": 35.0, "trip_degc": None},
    "inlet": {"text": "inlet", "limit_degc": None, "rise_limit_k": None, "trip_degc": None},
}
FUNCTIONS = {"cooling": {"check": "spots", "port": ""}, "video": {"check": "picture", "port": ""}}


def demands(probes, **settings):
    """Return {short name: requirement} for probes {name: spot}."""
    wired = {name: {"unit": "degC", "spot": spot} for name, spot in probes.items()}
    wired["supply"] = {"unit": "A", "spot": ""}
    sheet = {"spots": SPOTS, "functions": FUNCTIONS}
    check = Spots(SpotsSettings(**settings), placed("hot", {"probe": wired}, sheet))
    return {one.id.rpartition("/")[2]: one for one in check.requirements()}


def test_each_limit_of_the_sheet_becomes_a_demand():
    """Limit and trip at the heatsink, limit and rise outside, nothing at the inlet."""
    found = demands({"a": "heatsink", "b": "outside", "c": "inlet", "d": "ambient"})
    assert sorted(found) == ["heatsink limit", "heatsink trip", "outside limit", "outside rise"]
    assert found["heatsink limit"].limit == 80.0
    assert found["outside rise"].limit == 35.0
    assert found["outside rise"].unit == "K"


def test_a_demand_is_about_the_probe_that_is_there():
    """The quantity is the probe's, under the name the fixture gives it."""
    assert demands({"t1": "heatsink"})["heatsink limit"].quantity == "probe.t1"


def test_without_limits_the_trip_alone_is_demanded():
    """In stretches of starts only the guard's trip counts."""
    assert sorted(demands({"a": "heatsink", "b": "outside"}, limits=False)) == ["heatsink trip"]


def test_a_rise_knows_its_ambient_and_its_band():
    """The rise is over the ambient probe, valid between 15 and 30 degC."""
    params = demands({"b": "outside", "d": "ambient"})["outside rise"].params
    assert params == {
        "spot": "case",
        "ambient": "probe.d",
        "ambient_low_degc": 15.0,
        "ambient_high_degc": 30.0,
    }


def test_a_rise_without_an_ambient_probe_stays_a_demand():
    """Nobody measured ambient: the demand stands and names none, so it cannot be met."""
    assert demands({"b": "outside"})["outside rise"].params["ambient"] == ""


def test_steady_is_three_kelvin_in_half_an_hour():
    """The default is IEC 62368-1 B.1.6 as reported second-hand: 3 K in 30 min."""
    found = demands({"a": "heatsink"}, steady=True)["heatsink steady"]
    assert found.limit == 3.0
    assert found.params == {"spot": "heatsink", "within_k": 3.0, "window_s": 1800.0}


@pytest.mark.parametrize("guarded", [True, False])
def test_limits_are_guarded_as_the_script_says(guarded):
    """The probe's accuracy is kept clear of limits and rises, never of trips."""
    found = demands({"a": "heatsink", "b": "outside"}, guarded=guarded)
    assert found["heatsink limit"].guarded is guarded
    assert found["outside rise"].guarded is guarded
    assert found["heatsink trip"].guarded is False


def test_demands_at_spots_show_a_repair_of_the_cooling():
    """Of the model's functions those that this check exercises are shown."""
    assert demands({"a": "heatsink"})["heatsink limit"].shows_repair == {"cooling"}


def test_other_measurement_units_are_no_spots():
    """A probe of current makes no demand and its silence no hole here."""
    check = Spots(
        SpotsSettings(),
        placed("hot", {"probe": {"supply": {"unit": "A", "spot": ""}}}, {"spots": SPOTS}),
    )
    assert list(check.requirements()) == []
    assert list(check.sources()) == []
