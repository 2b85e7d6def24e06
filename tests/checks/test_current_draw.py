"""A unit taken through its working states while a probe reads its supply: what each drew."""

import numpy as np
import pytest
from short_soak import soak

FIXTURE = """\
[switch]
driver = "simulated"
[capture]
driver = "simulated"
port = "video"
[button]
driver = "simulated"
[probe.supply]
driver = "simulated"
unit = "A"
accuracy = 0.02
every_s = 1.0
"""
USED_A, STANDBY_A, STARTING_A = 0.85, 0.03, 1.30  # as the scene makes them
SHORT = {"running_s": 120, "standby_s": 60, "settles_s": 20}


def working_states(found) -> list[str]:
    return [mark.detail["working_state"] for mark in found.marks if mark.what == "working state"]


def test_running_and_standby_are_read_apart(tmp_path):
    """Each working state lasts as asked; the unit is pressed into its standby and started again."""
    scene = {"supply": {"used_a": USED_A, "standby_a": STANDBY_A}}
    found = soak(tmp_path, FIXTURE, {"current_draw": SHORT}, scene, button={"stops": True})
    assert working_states(found) == ["running", "standby"]
    lasted = [
        mark.t_s - mark.detail["from_s"] for mark in found.marks if mark.what == "working state"
    ]
    assert lasted == pytest.approx([120, 60])
    power = [mark.detail["on"] for mark in found.marks if mark.what == "power"]
    assert power == [True, False, True, False]
    assert found.verdict("current_draw/running") == "met"  # 1.2 A allowed by the model sheet


def test_the_unit_is_not_cut_off_in_the_start_after_its_standby(tmp_path):
    """Power that comes for a moment and goes again is no way to leave a unit."""
    found = soak(tmp_path, FIXTURE, {"current_draw": SHORT}, button={"stops": True})
    stops = [mark.detail["ended"] for mark in found.marks if mark.what == "soft stop"]
    assert stops == [True, True]  # into its standby, and when the soak is over


def test_without_a_button_there_is_no_standby(tmp_path):
    """Nothing presses: the standby is not read, and the unit is not switched off for it."""
    plain = FIXTURE.replace('[button]\ndriver = "simulated"\n', "")
    found = soak(tmp_path, plain, {"current_draw": SHORT})
    assert working_states(found) == ["running"]


def test_idle_is_what_the_operator_left_alone(tmp_path):
    """Answered it is a working state of its own; nobody answers: none, and the soak goes on."""

    async def away(unit, question):
        return None

    asked = {**SHORT, "idle_s": 60, "standby_s": 0}
    assert working_states(soak(tmp_path, FIXTURE, {"current_draw": asked})) == ["running", "idle"]
    gone = soak(tmp_path, FIXTURE, {"current_draw": asked}, answer=away)
    assert working_states(gone) == ["running"]


def test_a_unit_that_draws_too_much_is_not_met(tmp_path):
    """1.5 A where the model sheet allows 1.2 A."""
    found = soak(tmp_path, FIXTURE, {"current_draw": SHORT}, {"supply": {"used_a": 1.5}})
    assert found.verdict("current_draw/running") == "not met"
    assert np.isclose(found.findings["it/current_draw/running"].value, 1.5, atol=0.03)
