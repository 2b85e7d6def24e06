"""Power cycles against a bench that plays the unit: every time is set by the test."""

import sys
from pathlib import Path

import pytest
import trio

sys.path.insert(0, str(Path(__file__).parent))
from headers import placed
from scripted_bench import ScriptedBench, measured

from soak.checks.base import Done
from soak.checks.power_cycles import PowerCycles, PowerCyclesSettings
from soak.records import Reading, State

PROBES = {
    "hot": {"unit": "degC", "spot": "hot"},
    "ambient": {"unit": "degC", "spot": "ambient"},
    "supply": {"unit": "V", "spot": ""},
}
SHEET = {"start_s": 20.0, "start_limit_s": None, "functions": {}}


def check(fixture=None, sheet=SHEET, **settings):
    place = placed("starts", fixture or {}, sheet)
    return PowerCycles(PowerCyclesSettings(**settings), place)


def picture(after_s=7.0, off_after_s=0.3, fails=(), welded=False):
    """Play a capture: `after_s` from on to picture, `off_after_s` from off to no signal."""

    async def stream(bench: ScriptedBench):
        while True:
            switched = bench.switched
            starts = sum(on for _, on in bench.told)
            if bench.is_on or welded:
                since_s = bench.told[-1][0]
                if not welded and bench.clock.now_s() - since_s < after_s - 1e-9:
                    yield State(bench.clock.now_s(), "capture", "no signal")
                    await trio.sleep_until(since_s + after_s)
                if starts not in fails:
                    yield State(bench.clock.now_s(), "capture", "picture")
            elif bench.told:
                since_s = bench.told[-1][0]
                if bench.clock.now_s() - since_s < off_after_s - 1e-9:
                    yield State(bench.clock.now_s(), "capture", "picture")
                    await trio.sleep_until(since_s + off_after_s)
                yield State(bench.clock.now_s(), "capture", "no signal")
            await switched.wait()

    return {"capture": stream}


def cooling(from_k=30.0, k_per_s=0.1):
    """Play two probes: the hot one cools evenly while the power is off; ambient is 20 degC."""

    async def hot(bench: ScriptedBench):
        while True:
            off_s = bench.clock.now_s() - bench.told[-1][0]
            rise_k = max(0.0, from_k - k_per_s * off_s)
            yield Reading(bench.clock.now_s(), "probe.hot", 20.0 + rise_k)
            await trio.sleep(5.0)

    async def ambient(bench: ScriptedBench):
        while True:
            yield Reading(bench.clock.now_s(), "probe.ambient", 20.0)
            await trio.sleep(5.0)

    return {"probe.hot": hot, "probe.ambient": ambient}


def test_a_warm_cycle_keeps_its_times():
    """Off for 20 s, on for 40 s, three times: commands at 0, 20, 60, 80, 120, 140 s."""
    bench = measured(check(warm=3, off_s=20, on_s=40), picture())
    assert [t_s for t_s, _ in bench.told] == pytest.approx([0, 20, 60, 80, 120, 140])
    assert [on for _, on in bench.told] == [False, True] * 3
    assert bench.clock.now_s() == pytest.approx(180)


def test_the_time_to_picture_is_measured_from_the_switch():
    """A picture 7.3 s after on is written as took_s 7.3."""
    bench = measured(check(warm=2, off_s=20, on_s=40), picture(after_s=7.3))
    ended = bench.marks("start ended")
    assert [mark.detail["took_s"] for mark in ended] == pytest.approx([7.3, 7.3])
    assert all(mark.detail["seen"] for mark in ended)


def test_each_off_is_proved_by_the_capture():
    """The picture that goes 0.3 s after off proves it, and the time is on record."""
    bench = measured(check(warm=2, off_s=20, on_s=40), picture(off_after_s=0.3))
    proved = bench.marks("off proved")
    assert [mark.detail["after_s"] for mark in proved] == pytest.approx([0.3, 0.3])
    assert {mark.detail["by"] for mark in proved} == {"capture"}


def test_a_picture_that_stays_is_off_not_proved():
    """A relay that does not cut leaves the picture: said after off_within_s, 10 s."""
    bench = measured(check(warm=1, off_s=20, on_s=40), picture(welded=True))
    assert bench.marks("off proved") == []
    [mark] = bench.marks("off not proved")
    assert mark.detail["after_s"] == pytest.approx(10.0)


def test_a_blind_capture_proves_nothing_either_way():
    """While the card sees nothing there is neither proof nor disproof of off."""

    async def blind(bench):
        yield State(bench.clock.now_s(), "capture", "blind")
        await trio.sleep_forever()

    bench = measured(check(warm=1, off_s=20, on_s=40, give_up_s=60), {"capture": blind})
    assert bench.marks("off proved") == bench.marks("off not proved") == []


def test_a_start_without_picture_is_given_up():
    """The second start shows nothing: after 60 s it is over and says so; the third goes on."""
    streams = picture(fails={2})
    bench = measured(check(warm=3, off_s=20, on_s=40, give_up_s=60), streams)
    ended = bench.marks("start ended")
    assert [mark.detail["seen"] for mark in ended] == [True, False, True]
    assert ended[1].detail["took_s"] is None
    on_s = [t_s for t_s, on in bench.told if on]
    assert ended[1].t_s - on_s[1] == pytest.approx(60)


def test_a_cold_start_waits_until_the_unit_has_cooled():
    """30 K of rise at 0.1 K/s is within 3 K of ambient after 270 s, to a reading of 5 s."""
    streams = picture() | cooling()
    bench = measured(check({"probe": PROBES}, cold=1, cold_on_s=60), streams)
    off_s, on_s = (t_s for t_s, _ in bench.told)
    assert on_s - off_s == pytest.approx(270, abs=5.1)
    assert "within 3 K" in bench.marks("start")[0].detail["dwell"]


def test_a_unit_that_stays_warm_is_started_after_the_longest_off():
    """A spot that never cools ends its wait after half an hour, and the mark says so."""
    streams = picture() | cooling(k_per_s=0.0)
    bench = measured(check({"probe": PROBES}, cold=1, cold_on_s=60), streams)
    off_s, on_s = (t_s for t_s, _ in bench.told)
    assert on_s - off_s == pytest.approx(1800, abs=1)
    assert "not yet" in bench.marks("start")[0].detail["dwell"]


def test_a_cold_start_without_probes_waits_the_longest_off():
    """Nothing tells the temperature, so the wait is the whole half hour, and why is on record."""
    bench = measured(check(cold=1, cold_on_s=60), picture())
    off_s, on_s = (t_s for t_s, _ in bench.told)
    assert on_s - off_s == pytest.approx(1800, abs=1)
    assert "no probes" in bench.marks("start")[0].detail["dwell"]


def test_what_earlier_sessions_have_is_not_done_again():
    """With two of five done, the third comes next and three are done."""
    bench = measured(check(warm=5, off_s=20, on_s=40), picture(), done=Done(count=2))
    assert [mark.detail["number"] for mark in bench.marks("start ended")] == [3, 4, 5]


def test_the_models_own_limit_comes_before_the_learnt_one():
    """The shorter of what script and model sheet state is demanded; what neither states is not."""
    sheet = {**SHEET, "start_limit_s": 45.0}
    limit = "start_limit_s"
    assert limit not in check(warm=1).requirements()[0].params
    assert check(sheet=sheet, warm=1).requirements()[0].params[limit] == 45.0
    own = check(sheet=sheet, warm=1, start_limit_s=30)
    assert own.requirements()[0].params[limit] == 30.0
    looser = check(sheet=sheet, warm=1, start_limit_s=60)
    assert looser.requirements()[0].params[limit] == 45.0


def test_its_length_is_told_beforehand():
    """60 warm cycles of 90 s and 3 cold ones of at most 2700 s: 13 500 s."""
    asked = check(warm=60, off_s=30, on_s=60, cold=3, cold_off_at_most_s=1800, cold_on_s=900)
    assert asked.expected_s() == 60 * 90 + 3 * 2700


def test_a_knocked_plug_is_off_for_a_moment_and_the_unit_recovers_by_itself():
    """Three breaks of 0.2 to 2 s; a picture 7 s after each is the second of four degrees.

    The degrees are those of IEC 61000-4-11, in words.
    """
    bench = measured(check(quick=3, on_s=40), picture(off_after_s=0.1))
    breaks = [mark.detail for mark in bench.said if mark.what == "short break"]
    assert [one["degree"] for one in breaks] == ["recovers by itself"] * 3
    assert all(0.2 <= one["off_s"] <= 2.0 for one in breaks)
    assert len({one["off_s"] for one in breaks}) == 3


def test_a_break_that_a_picture_outlives_has_no_effect():
    """A unit whose picture stays through the break is of the first degree (IEC 61000-4-11)."""
    bench = measured(check(quick=1, on_s=40), picture(welded=True))
    [one] = [mark.detail for mark in bench.said if mark.what == "short break"]
    assert one["degree"] == "no effect"


@pytest.mark.parametrize(
    ("fails", "degree"), [((1,), "needs a hand"), ((1, 2), "does not recover")]
)
def test_a_unit_that_hangs_after_a_break_needs_a_hand_or_is_lost(fails, degree):
    """The third and the fourth degree (IEC 61000-4-11): told apart by a whole power cycle."""
    played = picture(off_after_s=0.1, fails=fails)
    bench = measured(check(quick=1, on_s=40, give_up_s=30), played)
    [one] = [mark.detail for mark in bench.said if mark.what == "short break"]
    assert one["degree"] == degree
