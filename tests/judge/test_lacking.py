"""What to run again: which stretch, how much of it, and never in pieces that show nothing."""

from dataclasses import replace

import numpy as np
import pytest
from made_up_soak import HOT_S, STARTS_S, clean_night, demand

from soak.derive.course import course_of
from soak.judge.grade import judge
from soak.judge.judging import judge_requirement
from soak.judge.lacking import in_words, to_run_again
from soak.records import Seal
from soak.rules.core.verdict import Verdict

HOT = STARTS_S + 3600.0
CAPTURE = {"needs": frozenset({"capture"})}
DROPOUT = demand("no dropout", "capture", **CAPTURE)
STARTS = demand("starts", params={"promised": 20, "start_limit_s": 60.0}, **CAPTURE)
TAIL = demand("failure free", "", 7200.0, **CAPTURE)
SEEN = {"seen": 3, "bouts": 3, "seen_in_s": 14400.0}
GONE = demand("fault gone", "capture", 0.05, params=SEEN, **CAPTURE)


def again(soak, *demands):
    soak = soak.demanding(*demands)
    return to_run_again(judge([soak]).findings, course_of(soak))


def cut_off_40_min_early(soak):
    """End a night as a crash does: 40 min of the hot run never came."""
    ends_s = STARTS_S + HOT_S - 2400
    soak.pieces["hot run"] = [(STARTS_S, ends_s)]
    soak.mark_list = [mark for mark in soak.mark_list if mark.t_s < ends_s]
    soak.state_list = [state for state in soak.state_list if state.t_s < ends_s]
    soak.ends_s, soak.seal = ends_s, None
    return soak


def test_a_soak_that_was_cut_off_says_stretch_and_minutes():
    """Forty minutes of the second stretch never came: resume, 40 min more."""
    [one] = again(cut_off_40_min_early(clean_night()), DROPOUT)
    assert (one.stretch, one.number) == ("hot run", 2)
    assert one.lacks_s == pytest.approx(2400, abs=3)
    assert in_words(one, resumable=True) == "stretch 2, hot run: 40 min more (`soak resume`)"


def test_a_sealed_soak_needs_the_stretch_once_more():
    """What is sealed cannot be added to: the stretch runs again, and what is lacking is said."""
    soak = clean_night()
    soak.spell("capture", HOT, HOT + 2400, "blind")
    [one] = again(soak, DROPOUT)
    words = in_words(one, resumable=False)
    assert words == "stretch 2, hot run: once more, 4 h; of it 40 min are lacking"


def test_a_stretch_that_went_on_until_it_had_seen_enough_lacks_what_was_blind():
    """Twenty blind minutes at one time, and the stretch 20 min longer: those 20 min lack."""
    soak = clean_night()
    soak.pieces["hot run"] = [(STARTS_S, STARTS_S + HOT_S + 1200)]
    soak.mark_list = [
        replace(mark, t_s=mark.t_s + 1200) if mark.t_s >= STARTS_S + HOT_S else mark
        for mark in soak.mark_list
    ]
    soak.state_list = [state for state in soak.state_list if state.t_s < STARTS_S + HOT_S]
    soak.ends_s += 1200
    soak.spell("capture", HOT, HOT + 1200, "blind")
    [one] = again(soak, replace(DROPOUT, longest_blind_s=300.0, blind_allowed=0.5))
    assert one.lacks_s == pytest.approx(1200, abs=3)


def test_starts_that_were_not_watched_are_counted():
    """Eight of twenty watched: twelve lack, in the first stretch."""
    [one] = again(clean_night(starts=8), STARTS)
    assert (one.number, one.lacks_starts, one.whole_starts) == (1, 12, 20)
    assert "12 starts" in in_words(one, resumable=False)


def test_what_lacks_in_one_stretch_is_said_once():
    """Two demands on one stretch make one line with the larger lack and both their names."""
    soak = cut_off_40_min_early(clean_night())
    found = again(soak, DROPOUT, demand("no restart", "capture", **CAPTURE), STARTS)
    assert [one.number for one in found] == [2]
    assert len(found[0].requirements) == 2


def test_a_fault_free_end_is_demanded_in_one_run():
    """A tail with a hole is run anew in one piece, never topped up."""
    soak = clean_night()
    soak.spell("capture", STARTS_S + HOT_S - 6000, STARTS_S + HOT_S - 60, "blind")
    [one] = again(soak, TAIL)
    assert one.unbroken
    assert "2 h in one run without a break" in in_words(one, resumable=True)


@pytest.mark.parametrize("name", ["failure free", "steady", "no dropout"])
def test_unbroken_runs_are_never_stitched(name):
    """Two nights, each blind in its own half of what counts, do not make a whole one together."""
    end_s = STARTS_S + HOT_S
    demands = {
        "failure free": (TAIL, end_s - 7100, end_s - 3600, end_s - 3500, end_s - 60),
        "steady": (
            demand(
                "steady",
                "probe.outside",
                3.0,
                check="spots",
                needs=frozenset({"probe"}),
                params={"within_k": 3.0, "window_s": HOT_S * 0.9},
            ),
            HOT,
            HOT + 3600,
            HOT + 5400,
            HOT + 9000,
        ),
        "no dropout": (DROPOUT, HOT, HOT + 3600, HOT + 3700, HOT + 7200),
    }
    own, a_from, a_to, b_from, b_to = demands[name]
    source = own.quantity or "capture"
    nights = [clean_night("S1"), clean_night("S2", "2026-01-06T21:00:00Z")]
    nights[0].spell(source, a_from, a_to, "blind")
    nights[1].spell(source, b_from, b_to, "blind")
    assert judge_requirement(own, nights).verdict == Verdict.NOT_SHOWN
    clean = clean_night("S3", "2026-01-07T21:00:00Z")
    assert judge_requirement(own, [*nights, clean]).verdict == Verdict.MET


def test_quiet_time_of_a_fault_that_should_be_gone_adds_up():
    """Four of 6.86 quiet hours: 2 h 51 min lack, and any soak of the job counts."""
    [one] = again(clean_night(), GONE)
    words = in_words(one, resumable=False)
    assert words.startswith("stretch 2, hot run: 2 h 51 min more; ")


def test_what_running_on_cannot_put_right_is_left_out():
    """A reading within its accuracy of the limit, and a welded relay, need no second night."""
    probe = {"needs": frozenset({"probe"}), "check": "spots", "unit": "degC", "guarded": True}
    soak = clean_night()
    soak.mark(500.0, "off not proved", "starts", "power_cycles", by="capture", after_s=10.0)
    close = demand("at most", "probe.outside", 50.5, **probe)
    assert again(soak, close, demand("off proved", **CAPTURE)) == []


def test_time_with_the_room_out_of_its_band_is_run_again():
    """An hour at 31 degC counts as blind, and the room can be put right."""
    soak = clean_night()
    t_s, value = soak.readings["probe.ambient"]
    warm = (t_s > HOT) & (t_s < HOT + 3600)
    soak.readings["probe.ambient"] = (t_s, np.where(warm, 31.0, value))
    rise = demand(
        "rise at most",
        "probe.outside",
        35.0,
        needs=frozenset({"probe"}),
        check="spots",
        unit="K",
        params={"ambient": "probe.ambient"},
    )
    [one] = again(soak, rise)
    assert one.lacks_s == pytest.approx(3600, abs=20)


def test_nothing_to_run_again_after_a_good_night():
    """Where everything is met, or failed, there is no hole to fill."""
    soak = clean_night()
    assert again(soak, DROPOUT, STARTS, TAIL) == []
    soak.spell("capture", HOT, HOT + 3, "black")
    assert again(soak, DROPOUT) == []


def test_a_soak_stopped_in_its_first_stretch_names_every_stretch():
    """Nothing but two starts: both stretches are to be run, in the order of the script."""
    soak = clean_night(starts=2)
    soak.pieces = {"starts": [(0.0, 180.0)]}
    soak.mark_list = [mark for mark in soak.mark_list if mark.t_s < 180]
    soak.state_list = [state for state in soak.state_list if state.t_s < 180]
    soak.readings.clear()
    soak.ends_s, soak.seal = 180.0, Seal(180.0, "stopped")
    found = again(soak, DROPOUT, replace(STARTS, longest_blind_s=300.0))
    assert [one.number for one in found] == [1, 2]
    assert found[1].lacks_s == HOT_S
