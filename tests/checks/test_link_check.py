"""The check `link` on simulated units, through runner, journal and judgement."""

import pytest
from short_soak import soak

SWITCH = '[switch]\ndriver = "simulated"\n'
CAPTURE = '[capture]\ndriver = "simulated"\nport = "video"\n'
LINK = '[link]\ndriver = "simulated"\nport = "usb1"\n'
OFTEN = {"per_hour": 60, "lasts_s": [2.0, 10.0]}
SUPER = {"speed_mbps": 5000.0, "fallen_mbps": 480.0}


def test_power_off_is_no_leaving(tmp_path):
    """Twelve commanded offs take the device away and bring it back: none is a fault."""
    cycles = {"warm": 12, "off_s": 20, "on_s": 40}
    found = soak(tmp_path, SWITCH + CAPTURE + LINK, {"power_cycles": cycles, "link": {}})
    assert found.verdict("link/stays") == "met"
    assert found.findings["it/link/stays"].value == 0


def test_a_contact_that_opens_is_a_leaving_and_is_counted(tmp_path):
    """The device goes for seconds while the unit runs: not met, with times to look at."""
    found = soak(
        tmp_path, SWITCH + LINK, {"link": {}}, {"contacts": {"usb1": {"opens": OFTEN}}}, "1 h"
    )
    stays = found.findings["it/link/stays"]
    assert found.verdict("link/stays") == "not met"
    assert stays.value > 20
    assert all(pointer.to_s - pointer.from_s <= 10.5 for pointer in stays.pointers)


def test_a_hub_of_the_bench_that_vanishes_is_never_against_the_unit(tmp_path):
    """Blind for a minute of two hours: allowed, and no leaving."""
    scene = {"bench": {"hub_vanishes": {"at_s": ["30 min", "31 min"], "for_s": "1 min"}}}
    found = soak(tmp_path, SWITCH + LINK, {"link": {}}, scene, "2 h")
    assert found.verdict("link/stays") == "met"


@pytest.mark.slow
def test_a_bench_that_was_blind_for_too_long_shows_nothing(tmp_path):
    """Twenty minutes at one time are more than the script allows: not shown, not failed."""
    scene = {"bench": {"hub_vanishes": {"at_s": ["30 min", "31 min"], "for_s": "20 min"}}}
    found = soak(tmp_path, SWITCH + LINK, {"link": {}}, scene, "2 h")
    assert found.verdict("link/stays") == "not shown"
    assert "blind" in found.because("link/stays")


def test_a_link_that_falls_back_is_a_finding_of_its_own(tmp_path):
    """It stays, so that is met; it fell back, and the sentence says where to look."""
    scene = {"link": SUPER, "data": {"falls_spot": "heatsink", "falls_above_degc": 45.0}}
    settings = {"at_least_speed_mbps": 5000.0}
    found = soak(tmp_path, SWITCH + LINK, {"link": settings}, scene, "2 h")
    assert found.verdict("link/stays") == "met"
    assert found.verdict("link/speed") == "not met"
    assert found.because("link/speed") == (
        "It fell back to high speed (480 Mb/s): look at the SuperSpeed pairs."
    )


def test_a_link_that_never_was_fast_enough_says_so(tmp_path):
    """High speed from the first moment is no falling back."""
    found = soak(tmp_path, SWITCH + LINK, {"link": {"at_least_speed_mbps": 5000.0}}, {}, "10 min")
    assert found.because("link/speed") == (
        "It never ran faster than high speed (480 Mb/s): look at the SuperSpeed pairs."
    )


@pytest.mark.parametrize("speed_mbps", [1.5, 12.0, 480.0, 5000.0, 10000.0, 20000.0])
def test_each_speed_of_usb_is_enough_for_itself(tmp_path, speed_mbps):
    """A link that runs at the demanded rate meets it, whichever it is."""
    scene = {"link": {"speed_mbps": speed_mbps}}
    settings = {"at_least_speed_mbps": speed_mbps}
    found = soak(tmp_path, SWITCH + LINK, {"link": settings}, scene, "10 min")
    assert found.verdict("link/speed") == "met"


def test_a_device_at_the_benchs_own_port_proves_nothing(tmp_path):
    """Without the unit's port in the fixture the demands are not tested."""
    link = '[link]\ndriver = "simulated"\n'
    found = soak(tmp_path, SWITCH + link, {"link": {}}, {}, "10 min")
    assert found.verdict("link/stays") == "not tested"


def test_a_device_that_was_never_there_shows_nothing(tmp_path):
    """Nothing was seen to stay: not shown, and why."""
    scene = {"start": {"fails_warm": 1.0, "fails_cold": 1.0}}
    found = soak(tmp_path, SWITCH + LINK, {"link": {}}, scene, "10 min")
    assert found.verdict("link/stays") in ("not shown", "not met")
    assert found.verdict("link/speed" if "it/link/speed" in found.findings else "link/stays")


def test_off_is_proved_by_the_link_where_no_capture_is(tmp_path):
    """At the end the device goes with the power, and that is on record."""
    found = soak(tmp_path, SWITCH + LINK, {"link": {}}, {}, "10 min")
    proved = [mark for mark in found.marks if mark.what == "off proved"]
    assert [mark.detail["by"] for mark in proved] == ["link"]
    assert "alarm" not in [mark.what for mark in found.marks]


def test_a_welded_relay_is_told_by_the_link(tmp_path):
    """The device stays though the power was commanded off: a person is called."""
    scene = {"bench": {"relay": {"fault": "welded", "at_s": [1, 2]}}}
    found = soak(tmp_path, SWITCH + LINK, {"link": {}}, scene, "10 min")
    assert "alarm" in [mark.what for mark in found.marks]
