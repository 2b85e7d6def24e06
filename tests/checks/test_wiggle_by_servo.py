"""Wiggle with a servo in place of the hand: nobody is asked, and the statistics are the same."""

import pytest
import trio
from short_soak import soak

SWITCH = '[switch]\ndriver = "simulated"\n'
VIDEO = '[capture]\ndriver = "simulated"\nport = "video"\n'
SERVO = '[servo]\ndriver = "simulated"\nat_port = "video"\nforce_n = 5.0\n'
BENCH = SWITCH + VIDEO + SERVO
HOT = {"spot": "heatsink", "above_degc": 40.0, "per_hour": 0}
LEFT_WHEN_HOT = {
    "contacts": {"video": {"moved_hot": 1.0, "moved_to": ["left"], "opens": HOT}},
}
COLD = {"port": "video", "repeats": 3}
WARM = {**COLD, "heat": "hot", "warm_up_s": 3600}
COLDLY, HOTLY = "wiggle/video cold", "wiggle/video hot"


async def nobody(unit, question):
    """Let nobody be there, and fail where somebody is asked."""
    pytest.fail(f"asked {question.id}")


def test_the_contact_that_opens_to_the_left_when_hot_is_found_with_nobody_there(tmp_path):
    """As under the hand: cold clean, hot the left movement alone, each of its three times."""
    cold = soak(tmp_path, BENCH, {"wiggle": COLD}, LEFT_WHEN_HOT, answer=nobody)
    assert cold.verdict(COLDLY) == "met"
    hot = soak(tmp_path, BENCH, {"wiggle": WARM}, LEFT_WHEN_HOT, answer=nobody)
    assert hot.verdict(HOTLY) == "not met"
    counts = hot.findings[f"it/{HOTLY}"].detail["by_movement"]
    assert counts["left"] >= 3
    assert {name for name, number in counts.items() if number} == {"left"}
    assert "if moving made no difference" in hot.because(HOTLY)  # the exact test against rest


def moved_by(found):
    """Return what moved the plug and how hard, N, as the header says it."""
    params = found.findings[f"it/{COLDLY}"].requirement.params
    return params["moved_by"], params.get("force_n")


def test_the_record_says_that_a_servo_moved_it_and_how_hard(tmp_path):
    """Its force is the fixture's, not the default of a hand."""
    found = soak(tmp_path, BENCH, {"wiggle": {**COLD, "repeats": 1}}, answer=nobody)
    ends = [m.detail for m in found.marks if m.what == "movement ends"]
    assert {one["force"] for one in ends} == {"servo, about 5 N"}
    assert moved_by(found) == ("servo", 5.0)


def test_a_force_nobody_measured_is_called_so(tmp_path):
    """A servo without a stated force claims none."""
    plain = SERVO.replace("force_n = 5.0\n", "")
    found = soak(tmp_path, SWITCH + VIDEO + plain, {"wiggle": COLD}, answer=nobody)
    assert moved_by(found) == ("servo", None)


def test_at_another_port_the_hand_moves_the_plug(tmp_path):
    """A servo at the service port leaves the video plug to the hand, which is asked."""
    asked = []

    async def there(unit, question):
        asked.append(question.id)
        await trio.sleep(1.0)
        return "done"

    elsewhere = SERVO.replace('"video"', '"usb1"')
    found = soak(tmp_path, SWITCH + VIDEO + elsewhere, {"wiggle": COLD}, answer=there)
    assert asked == ["it/rest", "it/round 1", "it/round 2", "it/round 3"]
    assert moved_by(found) == ("hand", 8.0)


def test_movements_a_servo_cannot_make_stay_not_shown(tmp_path):
    """One axis alone leans left and right; the rest is not claimed."""
    one_axis = SERVO + 'movements = ["left", "right"]\n'
    found = soak(tmp_path, SWITCH + VIDEO + one_axis, {"wiggle": COLD}, answer=nobody)
    assert found.verdict(COLDLY) == "not shown"
    assert "6 of 21 movements" in found.because(COLDLY)
    assert "missing: up, down, in, out, twist" in found.because(COLDLY)


def test_a_movement_the_servo_was_lost_in_is_made_anew(tmp_path):
    """Its adapter gone for 2 min: blind, a bench fault, and in the end all 21 were watched."""
    gone = {"bench": {"servo_vanishes": {"at_s": [150.0, 160.0], "for_s": 120.0}}}
    found = soak(tmp_path, BENCH, {"wiggle": COLD}, gone, answer=nobody)
    assert [m.detail["instrument"] for m in found.marks if m.what == "bench fault"] == ["servo"]
    assert [m.detail["whole"] for m in found.marks if m.what == "movement ends"].count(False) == 1
    assert 210 <= found.findings[f"it/{COLDLY}"].detail["moved_s"] < 221
    assert found.verdict(COLDLY) == "met"


def test_what_opened_while_the_servo_was_lost_is_still_the_units(tmp_path):
    """The port is watched meanwhile: an episode counts, whoever moved the plug."""
    gone = {
        "bench": {"servo_vanishes": {"at_s": [150.0, 160.0], "for_s": 120.0}},
        "contacts": {"video": {"opens": {"per_hour": 60, "lasts_s": [1.0, 2.0]}}},
    }
    found = soak(tmp_path, BENCH, {"wiggle": {**COLD, "rest_s": 600}}, gone, answer=nobody)
    assert found.verdict(COLDLY) == "not met"
