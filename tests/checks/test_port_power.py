"""The check `port_power`: a port's 5 V under its rated load."""

import pytest
from short_soak import soak

from soak.checks.port_power import RATED
from soak.errors import ScriptError

SWITCH = '[switch]\ndriver = "simulated"\n'
LOAD = '[load]\ndriver = "simulated"\nat_port = "usb1"\ncurrent_a = {amps}\n'
PROBE = (
    '[probe.usb5v]\ndriver = "simulated"\nunit = "V"\nat_port = "{port}"\nevery_s = 1.0\n'
    "accuracy = {accuracy}\n"
)


def bench(amps: float = 0.5, port: str = "usb1", accuracy: float = 0.02) -> str:
    return SWITCH + LOAD.format(amps=amps) + PROBE.format(port=port, accuracy=accuracy)


def port_of(open_v: float, ohm: float) -> dict:
    return {"port_supply": {"open_v": open_v, "ohm": ohm}}


def test_the_limits_are_those_of_the_specifications():
    """USB 2.0 section 7.2.1: 4.75 to 5.25 V at 500 mA; USB 3.0 section 11.4: 4.45 V at 900 mA."""
    assert RATED["usb2"] == (4.75, 5.25, 0.5)
    assert RATED["usb3"] == (4.45, 5.25, 0.9)


@pytest.mark.parametrize(
    ("open_v", "ohm", "verdict"),
    [
        (5.05, 0.20, "met"),  # 4.95 V with 0.5 A
        (5.05, 0.80, "not met"),  # 4.65 V
        (5.40, 0.10, "not met"),  # 5.40 V without load
        (5.05, 0.58, "not shown"),  # 4.76 V, nearer to 4.75 V than the meter knows
    ],
)
def test_a_port_is_judged_loaded_and_unloaded(tmp_path, open_v, ohm, verdict):
    """Ohm's law gives the loaded voltage; the meter's accuracy is kept clear of the limit."""
    found = soak(tmp_path, bench(accuracy=0.03), {"port_power": {}}, port_of(open_v, ohm))
    assert found.verdict("port_power/voltage") == verdict


def test_a_load_that_draws_nothing_shows_nothing(tmp_path):
    """Its relay answers and its resistor is open: the port's voltage does not move."""
    found = soak(tmp_path, bench(), {"port_power": {"droop_v": 0.2}}, port_of(5.05, 0.0))
    assert found.verdict("port_power/voltage") == "not shown"
    assert found.verdict("port_power/droop") == "not shown"
    assert "no voltage fell as the load came" in found.because("port_power/voltage")
    found = soak(tmp_path, bench(), {"port_power": {}}, port_of(5.40, 0.0))
    assert found.verdict("port_power/voltage") == "not met"  # too much with nothing drawn, too


def test_a_usb_3_port_may_fall_lower_with_more_drawn(tmp_path):
    """4.56 V at 0.9 A is enough for USB 3, and not for USB 2."""
    settings = {"standard": "usb3"}
    found = soak(tmp_path, bench(0.9), {"port_power": settings}, port_of(5.1, 0.6))
    assert found.verdict("port_power/voltage") == "met"
    found = soak(tmp_path, bench(0.9), {"port_power": {}}, port_of(5.1, 0.6))
    assert found.verdict("port_power/voltage") == "not met"


def test_a_load_that_draws_too_little_is_refused_before_anything_starts(tmp_path):
    """It could only show less than is demanded."""
    with pytest.raises(ScriptError, match=r"draws 0.5 A and usb3 asks for 0.9 A"):
        soak(tmp_path, bench(0.5), {"port_power": {"standard": "usb3"}})


def test_a_meter_without_stated_accuracy_shows_nothing(tmp_path):
    """How near the limit is safe nobody knows."""
    text = bench().replace("accuracy = 0.02\n", "")
    found = soak(tmp_path, text, {"port_power": {}})
    assert found.verdict("port_power/voltage") == "not shown"


def test_a_port_without_a_probe_is_not_tested(tmp_path):
    """A probe at the other port cannot see this one's voltage; it sees a neighbour's droop."""
    found = soak(tmp_path, bench(port="usb2"), {"port_power": {}})
    assert found.verdict("port_power/voltage") == "not tested"
    assert found.verdict("port_power/droop at usb2") == "met"


def test_a_neighbour_that_droops_too_far_is_found(tmp_path):
    """0.5 A through 0.9 ohm are 0.45 V; 0.33 V are allowed."""
    found = soak(tmp_path, bench(port="usb2"), {"port_power": {}}, port_of(5.2, 0.9))
    assert found.verdict("port_power/droop at usb2") == "not met"
    droop_v = found.findings["it/port_power/droop at usb2"].value
    assert droop_v == pytest.approx(0.45, abs=0.06)  # noise of the simulated meter: 0.01 V


@pytest.mark.parametrize("stop_at_s", [10.0, 70.0, 120.0])
def test_stopped_half_way_the_load_is_off(tmp_path, stop_at_s):
    """A resistor left on heats for nothing."""
    found = soak(tmp_path, bench(), {"port_power": {}}, stop_at_s=stop_at_s)
    assert found.unit.drawn_a == 0.0
    loads = [mark.detail["on"] for mark in found.marks if mark.what == "load"]
    assert loads[-1:] != [True]
