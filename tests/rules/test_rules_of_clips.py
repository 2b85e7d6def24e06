"""The rules on coded clips: met, not met, not shown, not tested."""

import numpy as np
import pytest
from made_up_soak import HOT_S, STARTS_S, clean_night, demand

from soak.judge.judging import judge_requirement
from soak.quantities import Quantity
from soak.rules.core.verdict import Verdict

T_S = np.arange(STARTS_S + 60, STARTS_S + HOT_S - 60, 1.0)
WHOLE = demand(
    "played whole",
    "clip.lost",
    0.0,
    needs=frozenset({"capture"}),
    params={"port": "usb2", "path": "played", "over": "second USB port"},
)
COLOURS = demand("played in colour", "clip.colour_error", 0.35, needs=frozenset({"capture"}))
STEADY = demand("played steadily", "clip.lost", 60.0, needs=frozenset({"capture"}))


def played(lost_at=(), long_at=(), unseen_at=(), red_at=()):
    soak = clean_night()
    nothing = ("lost", "stuttered", "unseen", "colour_error.blue", "colour_error.green")
    counts = {"came": np.full(len(T_S), 30.0), "longest_run": 30.0 * np.arange(1, len(T_S) + 1)}
    counts |= {name: np.zeros(len(T_S)) for name in nothing}
    counts["colour_error.red"] = np.full(len(T_S), 0.04)
    counts["colour_error.red"][list(red_at)] = 0.9
    counts["unseen"][list(unseen_at)] = 3.0
    counts["lost"][list(lost_at)] = 2.0
    counts["stuttered"][list(long_at)] = 1.0
    for name, values in counts.items():
        soak.readings[f"clip.{name}"] = (T_S, values)
    known = [Quantity(f"clip.{name}", "1", "capture") for name in counts]
    return soak.with_header(quantities=(*soak.header.quantities, *known))


@pytest.mark.parametrize("demanded", [WHOLE, STEADY])
def test_a_clip_that_came_whole_is_met_and_says_how_many_frames(demanded):
    """Four hours at 30 frames a second without a loss."""
    finding = judge_requirement(demanded, [played().demanding(demanded)])
    assert finding.verdict is Verdict.MET
    if demanded is WHOLE:
        assert finding.because.startswith(
            "Read from the second USB port and shown: 428 400 of 428 400 frames in 3 h 58 min; "
            "428 400 of them in one unbroken run."
        )


def test_two_lost_frames_are_not_met_and_pointed_at():
    """A loss of two frames at one moment names the moment."""
    finding = judge_requirement(WHOLE, [played(lost_at=[5000]).demanding(WHOLE)])
    assert finding.verdict is Verdict.NOT_MET
    assert finding.value == 2
    assert finding.pointers[0].to_s == T_S[5000]


def test_frames_that_stand_too_often_are_not_steady():
    """More than sixty an hour is a stutter; a few are not."""
    often = played(long_at=range(0, 4000, 10))
    assert judge_requirement(STEADY, [often.demanding(STEADY)]).verdict is Verdict.NOT_MET
    seldom = played(long_at=[5, 900])
    assert judge_requirement(STEADY, [seldom.demanding(STEADY)]).verdict is Verdict.MET


@pytest.mark.parametrize("demanded", [WHOLE, STEADY])
def test_a_clip_that_never_came_is_not_shown(demanded):
    """No frame read, or a bench that was blind for an hour, shows nothing."""
    assert judge_requirement(demanded, [clean_night().demanding(demanded)]).verdict in (
        Verdict.NOT_SHOWN,
        Verdict.NOT_TESTED,
    )
    blind = played()
    blind.spell("capture", STARTS_S + 3600, STARTS_S + 7200, "blind")
    assert judge_requirement(demanded, [blind.demanding(demanded)]).verdict is Verdict.NOT_SHOWN


@pytest.mark.parametrize("demanded", [WHOLE, STEADY])
def test_without_a_capture_a_clip_is_not_tested(demanded):
    """No instrument, no finding against anybody."""
    soak = played()
    fixture = {
        name: wired for name, wired in soak.header.fixture.as_json().items() if name != "capture"
    }
    bare = soak.with_header(fixture=fixture).demanding(demanded)
    assert judge_requirement(demanded, [bare]).verdict is Verdict.NOT_TESTED


def test_frames_in_gaps_of_the_capture_are_nobodys_loss():
    """A few are told and change nothing; too many leave the clip not shown, never not met."""
    few = judge_requirement(WHOLE, [played(unseen_at=[100, 900]).demanding(WHOLE)])
    assert few.verdict is Verdict.MET
    assert "6 more fell into gaps of the capture and say nothing" in few.because
    many = judge_requirement(WHOLE, [played(unseen_at=range(0, 14000, 4)).demanding(WHOLE)])
    assert many.verdict is Verdict.NOT_SHOWN
    assert "of the frames fell into gaps of the capture" in many.because


def test_a_lost_colour_is_named_with_its_lane_and_time():
    """Red gone for one second of the night; blue and green as they were made."""
    finding = judge_requirement(COLOURS, [played(red_at=[7000]).demanding(COLOURS)])
    assert finding.verdict is Verdict.NOT_MET
    assert "blue 0 %, green 0 %, red 90 %" in finding.because
    assert finding.pointers[0].what == "red off by 90 %"
    assert finding.pointers[0].to_s == T_S[7000]
    good = judge_requirement(COLOURS, [played().demanding(COLOURS)])
    assert (good.verdict, good.value) == (Verdict.MET, 0.04)


def only(soak, keep):
    """Keep these readings of the clip and leave the others out."""
    for name in list(soak.readings):
        if name.startswith("clip."):
            t_s, value = soak.readings[name]
            soak.readings[name] = (t_s[keep], value[keep])
    return soak


@pytest.mark.parametrize("demanded", [WHOLE, STEADY, COLOURS])
def test_a_clip_that_was_read_once_in_a_night_is_not_shown(demanded):
    """One second of four hours says nothing of the rest, and divides by no nought."""
    finding = judge_requirement(demanded, [only(played(), [5000]).demanding(demanded)])
    assert finding.verdict is Verdict.NOT_SHOWN
    assert "no frame of the clip was read" in finding.because


def test_a_frame_that_stood_in_the_only_second_is_a_rate_of_that_second():
    """One in one second is 3600 an hour."""
    soak = only(played(long_at=[5000]), [5000])
    finding = judge_requirement(STEADY, [soak.demanding(STEADY)])
    assert (finding.verdict, finding.value) == (Verdict.NOT_MET, pytest.approx(3600))
    assert finding.because == "1 frame stood longer than twice the usual time in 1 s."


def test_a_unit_that_stops_playing_the_clip_has_not_played_it_whole():
    """Nothing lost in the first hour, and then a menu for three: not shown, not met."""
    soak = played()
    came = soak.readings["clip.came"][1]
    came[3600:] = 0.0
    finding = judge_requirement(WHOLE, [soak.demanding(WHOLE)])
    assert finding.verdict is Verdict.NOT_SHOWN
    assert "for 2 h 59 min no frame of the clip was read" in finding.because
    came[:] = 30.0
    came[3600:3840] = 0.0  # four minutes: less than an instrument may be silent, and under 2 %
    assert judge_requirement(WHOLE, [soak.demanding(WHOLE)]).verdict is Verdict.MET


@pytest.mark.parametrize(
    ("demanded", "quantity"),
    [(WHOLE, "clip.lost"), (STEADY, "clip.stuttered"), (COLOURS, "clip.colour_error.green")],
)
def test_what_was_never_read_of_a_clip_is_no_good_result(demanded, quantity):
    """A count that nobody made is not a count of none."""
    soak = played()
    del soak.readings[quantity]
    assert judge_requirement(demanded, [soak.demanding(demanded)]).verdict is Verdict.NOT_SHOWN
