"""Power cycles of a unit with a power button: pressed off in order, on where it stays off."""

from short_soak import soak

SWITCH = '[switch]\ndriver = "simulated"\n'
VIDEO = '[capture]\ndriver = "simulated"\nport = "video"\n'
BUTTON = '[button]\ndriver = "simulated"\n'
CURRENT = '[probe.supply]\ndriver = "simulated"\nunit = "A"\nevery_s = 1.0\n'
BENCH = SWITCH + VIDEO + BUTTON
STOPS = {"stops": True, "stop_held_s": 0.5, "stop_limit_s": 30.0}
STAYS_OFF = {**STOPS, "stays_off": True}
WARM = {"power_cycles": {"warm": 6, "off_s": 20, "on_s": 40, "give_up_s": 60}}


def pressed(found, does):
    return [m for m in found.marks if m.what == "button" and m.detail["does"] == does]


def between(found, what):
    """Return, for each mark of a kind in the stretch, the time to the power's next off, s."""
    offs = [m.t_s for m in found.marks if m.what == "power" and not m.detail["on"]]
    marks = [m for m in found.marks if m.what == what and m.stretch]
    return [min(t for t in offs if t >= m.t_s) - m.t_s for m in marks]


def test_the_power_is_cut_only_after_the_unit_went_off_by_itself(tmp_path):
    """Pressed, dark, ten more seconds for what it still writes, then cut; nothing is charged."""
    found = soak(tmp_path, BENCH, {**WARM, "picture": {}}, button=STOPS)
    assert len(pressed(found, "stop")) == 6  # not at the first, still off; but before the last cut
    stops = [m for m in found.marks if m.what == "soft stop"]
    assert {m.detail["ended"] for m in stops} == {True}
    # dark 0.5 to 2 s after the press by the scene, then `after_dark_s`
    assert all(10.0 < m.detail["after_s"] < 14.0 for m in stops)
    assert found.verdict("power_cycles/soft stops") == "met"
    assert found.verdict("power_cycles/starts") == "met"
    assert {f.verdict.value for f in found.findings.values()} == {"met"}


def test_a_supply_current_that_falls_ends_the_wait(tmp_path):
    """The scene is off in order 4 to 8 s after the press; the current shows it within a second."""
    found = soak(tmp_path, BENCH + CURRENT, WARM, button=STOPS)
    stops = [m for m in found.marks if m.what == "soft stop"]
    assert {m.detail["by"] for m in stops} == {"capture, probe.supply"}
    assert all(4.0 <= m.detail["after_s"] <= 9.5 for m in stops)


def test_a_soft_stop_that_does_not_end_is_the_units_and_the_power_is_cut(tmp_path):
    """Its time over, the power goes all the same; a finding of its own says so."""
    found = soak(tmp_path, BENCH, WARM, {"button": {"hangs": 1.0}}, button=STOPS)
    assert found.verdict("power_cycles/soft stops") == "not met"
    assert "5 soft stops of 5 did not end" in found.because("power_cycles/soft stops")
    stops = [m for m in found.marks if m.what == "soft stop" and m.stretch]
    assert all(30.0 <= m.detail["after_s"] <= 31.0 for m in stops)
    assert all(after < 0.1 for after in between(found, "soft stop"))
    assert found.verdict("power_cycles/starts") == "met"
    assert not found.unit.powered


def test_a_unit_that_stays_off_is_pressed_on_after_power_is_back(tmp_path):
    """Each start is measured from the press; nothing is charged while it waits for one."""
    scene = {"button": {"stays_off": True}}
    checks = {**WARM, "picture": {}}
    found = soak(tmp_path, BENCH, checks, scene, button=STAYS_OFF)
    assert len(pressed(found, "start")) == 6
    ended = [m.detail for m in found.marks if m.what == "start ended"]
    assert all(12.0 < one["took_s"] < 25.0 for one in ended)  # the scene starts in 17 to 20 s
    assert {f.verdict.value for f in found.findings.values()} == {"met"}


def test_other_stretches_press_it_on_once(tmp_path):
    """A stretch that only watches needs the unit on; a second press would stop it."""
    found = soak(
        tmp_path,
        BENCH,
        {"picture": {}},
        {"button": {"stays_off": True}},
        "20 min",
        button=STAYS_OFF,
    )
    assert len(pressed(found, "start")) == 1
    assert found.verdict("picture/no dropout") == "met"


def test_a_lost_presser_is_the_benchs_and_nothing_is_charged_to_the_unit(tmp_path):
    """Its adapter gone for 3 min: blind, waited for, then the soft stop goes on as planned."""
    gone = {"bench": {"presser_vanishes": {"at_s": [70.0, 80.0], "for_s": 180.0}}}
    found = soak(tmp_path, BENCH, {**WARM, "picture": {}}, gone, button=STOPS)
    faults = [m.detail["instrument"] for m in found.marks if m.what == "bench fault"]
    assert faults == ["button"]
    assert "bench well" in [m.what for m in found.marks]
    assert "not met" not in {f.verdict.value for f in found.findings.values()}
    assert found.verdict("power_cycles/soft stops") == "met"
    assert [m.detail["doubtful"] for m in pressed(found, "stop")].count(True) == 1


def test_without_a_presser_the_stops_are_hard_and_not_tested(tmp_path):
    """The model has a button and nothing here presses it: that is said, not passed over."""
    found = soak(tmp_path, SWITCH + VIDEO, WARM, button=STOPS)
    assert found.verdict("power_cycles/soft stops") == "not tested"
    assert found.verdict("power_cycles/starts") == "met"
    assert not [m for m in found.marks if m.what == "soft stop"]


def test_a_script_may_ask_for_hard_cuts(tmp_path):
    """`soft_stop = false` demands nothing of the button and presses nothing in its cycles."""
    checks = {"power_cycles": {**WARM["power_cycles"], "soft_stop": False}}
    found = soak(tmp_path, BENCH, checks, button=STOPS)
    assert "it/power_cycles/soft stops" not in found.findings
    assert [m.stretch for m in found.marks if m.what == "soft stop"] == [""]  # the last cut


def test_a_unit_that_only_its_button_wakes_is_no_failed_start(tmp_path):
    """A welded relay cuts nothing: the unit, pressed off, stays off until pressed on."""
    welded = {"bench": {"relay": {"fault": "welded", "at_s": [0.5, 0.6]}}}
    found = soak(tmp_path, BENCH, WARM, welded, button=STOPS)
    assert "not met" not in {f.verdict.value for f in found.findings.values()}
    assert found.verdict("power_cycles/off proved") == "not shown"
    assert "look at the relay" in found.because("power_cycles/off proved")


def test_held_longer_than_the_model_wants_it_would_be_cut_off_hard(tmp_path):
    """The simulated unit cuts itself off when held for 4 s: a sheet that says 5 is found out."""
    found = soak(tmp_path, BENCH, WARM, button={**STOPS, "stop_held_s": 5.0})
    assert found.unit.modes.at(1e6) == "off"
    assert len(pressed(found, "stop")) == 6
