"""The check `network` on simulated units, through runner, journal and judgement."""

import pytest
from short_soak import soak

from soak.derive.course import course_of
from soak.derive.seeing.proved import proved
from soak.judge.explain.causes import probable_causes

SWITCH = '[switch]\ndriver = "simulated"\n'
CAPTURE = '[capture]\ndriver = "simulated"\nport = "video"\n'
NETWORK = '[network]\ndriver = "simulated"\nport = "network"\n'
SERVES = 'serves = "http://192.0.2.7/clip"\n'
PROBE = '[probe.heatsink]\ndriver = "simulated"\nspot = "heatsink"\naccuracy = 1.0\n'
OFTEN = {"per_hour": 60, "lasts_s": [2.0, 10.0]}
FALLS = {"falls_spot": "heatsink", "falls_above_degc": 45.0}


def test_power_off_is_no_loss(tmp_path):
    """Twelve commanded offs take the link and bring it back: none is a fault."""
    cycles = {"warm": 12, "off_s": 20, "on_s": 40}
    found = soak(tmp_path, SWITCH + CAPTURE + NETWORK, {"power_cycles": cycles, "network": {}})
    assert found.verdict("network/stays") == "met"
    assert found.findings["it/network/stays"].value == 0


def test_a_contact_that_opens_is_a_loss_and_is_counted(tmp_path):
    """The link goes for seconds while the picture stays: not met, and the socket is pointed at."""
    scene = {"contacts": {"network": {"opens": OFTEN}}}
    found = soak(tmp_path, SWITCH + CAPTURE + NETWORK, {"network": {}, "picture": {}}, scene, "1 h")
    assert found.verdict("network/stays") == "not met"
    assert found.findings["it/network/stays"].value > 20
    assert found.verdict("picture/no dropout") == "met"
    assert probable_causes([found.evidence])[0].key == "network socket"


def test_a_speed_that_falls_when_hot_is_not_met_and_says_which_pairs(tmp_path):
    """1000 Mb/s need four pairs and 100 Mb/s two (IEEE 802.3 clauses 40 and 25)."""
    found = soak(tmp_path, SWITCH + NETWORK + PROBE, {"network": {}}, {"network": FALLS}, "2 h")
    assert found.verdict("network/speed") == "not met"
    assert found.because("network/speed") == (
        "It fell back to 100 Mb/s: look at the two pairs that only a gigabit link needs "
        "(4 and 5, 7 and 8)."
    )
    assert probable_causes([found.evidence])[0].key == "network socket"


def test_a_script_may_demand_another_speed_than_the_model_sheet(tmp_path):
    """What the script says counts."""
    found = soak(
        tmp_path, SWITCH + NETWORK, {"network": {"at_least_speed_mbps": 100.0}}, {}, "10 min"
    )
    assert found.verdict("network/speed") == "met"


def test_a_bench_whose_hub_vanishes_is_never_against_the_unit(tmp_path):
    """Blind for a minute of two hours: allowed, and no loss."""
    scene = {"bench": {"hub_vanishes": {"at_s": ["30 min", "31 min"], "for_s": "1 min"}}}
    found = soak(tmp_path, SWITCH + NETWORK, {"network": {}}, scene, "2 h")
    assert found.verdict("network/stays") == "met"


@pytest.mark.parametrize(
    ("fault", "says"),
    [
        ({"damage": OFTEN}, "differs from what was stored"),
        ({"hangs": OFTEN}, "hung though the network link"),
    ],
)
def test_a_file_that_comes_wrong_or_never_ends_is_charged(tmp_path, fault, says):
    """The link stays all the time, which is met; what comes over it is not."""
    settings = {"fetch_every_s": 5.0, "fetch_limit_s": 20.0}
    scene = {"network": fault}
    found = soak(tmp_path, SWITCH + NETWORK + SERVES, {"network": settings}, scene, "1 h")
    assert found.verdict("network/stays") == "met"
    whole = found.findings["it/network/fetched whole"]
    assert found.verdict("network/fetched whole") == "not met"
    assert says in str(whole.pointers[0].what)


def test_a_fetch_that_a_loss_of_the_link_broke_counts_as_that_loss_alone(tmp_path):
    """One fault is charged once: where the link went, the fetch speaks of nothing else."""
    scene = {"contacts": {"network": {"opens": OFTEN}}, "network": {"serves_bytes": 200_000_000}}
    settings = {"fetch_every_s": 1.0}
    found = soak(tmp_path, SWITCH + NETWORK + SERVES, {"network": settings}, scene, "1 h")
    assert found.verdict("network/stays") == "not met"
    broken = [m for m in found.evidence.marks("fetched") if m.detail["came"] == "broke off"]
    assert broken
    assert found.verdict("network/fetched whole") == "met"


def test_a_slow_socket_is_told_by_its_rate(tmp_path):
    """At 100 Mb/s no file comes faster than 11.75 MB/s (0.94 of 12.5 MB/s)."""
    settings = {"at_least_bytes_per_s": 20e6, "fetch_every_s": 5.0, "at_least_speed_mbps": 10.0}
    scene = {"network": {"speed_mbps": 100.0}}
    found = soak(tmp_path, SWITCH + NETWORK + SERVES, {"network": settings}, scene, "10 min")
    assert found.verdict("network/fetch rate") == "not met"
    assert found.findings["it/network/fetch rate"].value == pytest.approx(11.75e6, rel=1e-3)


def test_a_socket_that_is_at_no_unit_shows_nothing(tmp_path):
    """A port of the bench without the unit's name says nothing of the unit."""
    wired = SWITCH + '[network]\ndriver = "simulated"\n'
    found = soak(tmp_path, wired, {"network": {}}, {}, "5 min")
    assert found.verdict("network/stays") == "not tested"


def test_a_socket_that_opens_to_one_side_is_found_by_wiggling_it(tmp_path):
    """As at any port: only the movement that opens the contact shows losses, each of its times."""
    scene = {"contacts": {"network": {"moved_cold": 1.0, "moved_hot": 1.0, "moved_to": ["up"]}}}
    settings = {"wiggle": {"port": "network", "repeats": 3}}
    found = soak(tmp_path, SWITCH + NETWORK, settings, scene)
    finding = found.findings["it/wiggle/network cold"]
    assert found.verdict("wiggle/network cold") == "not met"
    counts = finding.detail["by_movement"]
    assert counts["up"] >= 3
    assert {name for name, number in counts.items() if number} == {"up"}
    assert "network link gone" in str(finding.pointers[0].what)


def test_a_link_that_followed_the_power_is_proved(tmp_path):
    """It went and came with the unit's own power: the cable is at this unit."""
    cycles = {"power_cycles": {"warm": 3, "off_s": 20, "on_s": 40}, "network": {}}
    found = soak(tmp_path, SWITCH + CAPTURE + NETWORK, cycles)
    assert str(proved(course_of(found.evidence), "network")).startswith("it followed the unit")


def test_a_unit_that_never_serves_anything_shows_nothing_of_what_it_serves(tmp_path):
    """The bench may have a wrong address: not shown, and not against the unit."""
    scene = {"network": {"serves_bytes": 0}}
    settings = {"at_least_bytes_per_s": 1e6}
    found = soak(tmp_path, SWITCH + NETWORK + SERVES, {"network": settings}, scene, "10 min")
    assert found.verdict("network/stays") == "met"
    assert found.verdict("network/fetched whole") == "not shown"
    assert found.verdict("network/fetch rate") == "not shown"


def test_a_good_socket_gives_a_file_whole_and_fast(tmp_path):
    """At 1000 Mb/s the simulated storage is the slower one: 40 MB/s."""
    settings = {"at_least_bytes_per_s": 20e6, "fetch_every_s": 10.0}
    found = soak(tmp_path, SWITCH + NETWORK + SERVES, {"network": settings}, {}, "10 min")
    assert found.verdict("network/fetched whole") == "met"
    assert found.verdict("network/fetch rate") == "met"
