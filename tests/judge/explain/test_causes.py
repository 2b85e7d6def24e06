"""Probable causes: pointers that explain, none where nothing points, never part of a grade."""

import numpy as np
import pytest
from made_up_soak import HOT_S, OFF_S, STARTS_S, clean_night, demand

from soak.derive.course import course_of
from soak.judge.explain.causes import no_idea, probable_causes
from soak.judge.explain.clues import Clues, sudden_warming
from soak.judge.explain.swapping import worth_swapping

BAD = ["black", "no signal", "frozen"]
NO_DROPOUT = demand("no dropout", "capture", params={"bad": BAD, "at_least_s": 0.2})
LIMIT = demand("at most", "probe.outside", 60.0, unit="degC")


def night():
    return clean_night().demanding(NO_DROPOUT, LIMIT)


def keys(soak) -> list[str]:
    return [cause.key for cause in probable_causes([soak])]


def at(fraction: float) -> float:
    return STARTS_S + 600 + fraction * (HOT_S - 1200)


def test_a_clean_night_points_nowhere_and_says_so():
    """Without an event there is no pointer and no invented cause."""
    assert keys(night()) == []
    assert "nothing points anywhere" in no_idea([night()])


def test_one_loss_alone_is_too_little_to_point_anywhere():
    """A single dropout follows no pattern: no idea."""
    soak = night()
    soak.spell("capture", at(0.5), at(0.5) + 1.0, "no signal")
    assert keys(soak) == []
    assert no_idea([soak]).startswith("No idea: 1 event")


def test_short_losses_of_the_picture_alone_point_at_the_video_port():
    """The picture goes and comes back at once while data goes on: connector, not supply."""
    soak = night()
    for fraction in (0.1, 0.3, 0.35, 0.8):
        soak.spell("capture", at(fraction), at(fraction) + 1.5, "no signal")
    assert keys(soak)[0] == "video port"
    assert "not the supply" in probable_causes([soak])[0].text


def test_a_long_black_picture_may_be_protected_output():
    """Outside the two look the same, so the pointer is there, and never the first of several."""
    soak = night()
    soak.spell("capture", at(0.3), at(0.3) + 600, "black")
    causes = probable_causes([soak])
    assert [cause.key for cause in causes] == ["protected output"]
    assert "May be protected output and no fault" in causes[0].text
    short = night()
    short.spell("capture", at(0.3), at(0.3) + 5, "black")
    assert "protected output" not in keys(short)


def test_picture_and_data_lost_at_one_moment_point_at_the_power():
    """What takes everything at once is behind everything: inlet or supply."""
    soak = night()
    for fraction in (0.2, 0.4, 0.6, 0.7):
        soak.spell("capture", at(fraction), at(fraction) + 3, "no signal")
        soak.spell("stick", at(fraction), at(fraction) + 4, "gone")
    assert keys(soak)[0] == "power"


def test_restarts_point_at_the_power_before_any_port():
    """A picture that returns only after a start's time was a restart."""
    soak = night()
    for fraction in (0.2, 0.5, 0.9):
        soak.spell("capture", at(fraction), at(fraction) + 20, "no signal")
        soak.spell("stick", at(fraction), at(fraction) + 22, "gone")
    assert keys(soak)[0] == "power"


def test_wrong_data_while_the_picture_stays_points_at_the_usb_port():
    """Bytes that come back wrong concern the port they crossed."""
    soak = night()
    t_s, damaged = soak.readings["transfer.stick.damaged"]
    damaged = damaged.copy()
    damaged[np.searchsorted(t_s, [at(0.3), at(0.5), at(0.9)])] = 12.0
    soak.readings["transfer.stick.damaged"] = (t_s, damaged)
    assert keys(soak)[0] == "usb port"


def test_a_spot_beyond_its_limit_points_at_cooling():
    """A smooth curve beyond the limit is thermal compound rather than a fan."""
    soak = night()
    t_s, value = soak.readings["probe.outside"]
    soak.readings["probe.outside"] = (t_s, value + 30 * (1 - np.exp(-t_s / 3000)))
    assert keys(soak)[0] == "cooling"
    assert "thermal compound" in probable_causes([soak])[0].text


def test_losses_that_come_only_when_hot_are_said_to():
    """None of twenty losses in the coolest quarter: heat matters; spread evenly: not shown."""
    warming, even = night(), night()
    for soak, fractions in ((warming, np.linspace(0.4, 1, 20)), (even, np.linspace(0.02, 1, 20))):
        t_s, _ = soak.readings["probe.outside"]
        soak.readings["probe.outside"] = (t_s, 20 + 20 * np.clip((t_s - STARTS_S) / HOT_S, 0, 1))
        for fraction in fractions:
            soak.spell("capture", at(fraction), at(fraction) + 1.0, "no signal")
    assert "when hot" in probable_causes([warming])[0].text
    assert "no link with heat shown" in probable_causes([even])[0].text


def test_the_rank_test_agrees_with_a_second_library():
    """The Mann-Whitney chance is scipy's (asymptotic, no continuity correction)."""
    from scipy.stats import mannwhitneyu

    soak = night()
    t_s, _ = soak.readings["probe.outside"]
    heat = 20 + 20 * np.clip((t_s - STARTS_S) / HOT_S, 0, 1)
    soak.readings["probe.outside"] = (t_s, heat)
    for fraction in np.linspace(0.3, 1, 15):
        soak.spell("capture", at(fraction), at(fraction) + 1.0, "no signal")
    clues = Clues(course_of(soak))
    ranked = clues.heat_at(clues.of("dropout"))
    watched = (t_s >= clues.course.started[-1][0]) | (t_s < STARTS_S)
    assert watched.any()
    there = np.interp([event.from_s for event in clues.of("dropout")], t_s, heat)
    inside = np.zeros(len(t_s), dtype=bool)
    for from_s, to_s in clues.course.started:
        inside |= (t_s >= from_s) & (t_s <= to_s)
    p = mannwhitneyu(
        there, heat[inside], alternative="greater", method="asymptotic", use_continuity=False
    ).pvalue
    assert ranked.p_hotter <= 2 * p * 1.05


def test_a_unit_that_warms_anew_is_told_from_one_that_warms_up():
    """First-order warming never warms anew; a step after two steady hours does, where it is."""
    t_s = np.arange(0, 6 * 3600, 10.0)
    up = 60 - 35 * np.exp(-t_s / 600)
    step = up + np.where(t_s > 4 * 3600, 25 * (1 - np.exp(-(t_s - 4 * 3600) / 600)), 0)
    assert sudden_warming(t_s, up, 0, 6 * 3600) is None
    assert sudden_warming(t_s, step, 0, 6 * 3600) == pytest.approx(4 * 3600, abs=300)


def test_failed_starts_point_at_power_up():
    """Starts that show no picture, and nothing else: what happens at power-up."""
    soak = night()
    for number in (3, 7, 11):
        fail_start(soak, number)
    assert keys(soak)[0] == "start"
    assert worth_swapping([soak], probable_causes([soak])) == ["starts"]


@pytest.mark.parametrize(
    ("kind", "where"),
    [("lowest voltage", "at the lowest rated voltage"), ("quick", "after a short break")],
)
def test_starts_that_fail_at_the_supplys_limits_point_at_the_supply(kind, where):
    """What fails only with the supply set or broken is no power-up fault; no swap decides it."""
    soak = night()
    for number in (3, 7, 11):
        fail_start(soak, number)
    tried = 0
    for index, mark in enumerate(soak.mark_list):
        if mark.what in ("start", "start ended"):
            detail = {**mark.detail, "kind": kind}
            soak.mark_list[index] = type(mark)(
                mark.t_s, mark.what, mark.stretch, "supply_margin", detail
            )
            tried += mark.what == "start"
    causes = probable_causes([soak])
    assert [cause.key for cause in causes] == ["supply"]
    assert f"3 of {tried} starts {where} failed" in causes[0].text
    assert worth_swapping([soak], causes) == []
    named = "start after short break" if kind == "quick" else f"{kind} start"
    assert {event.text.rpartition(" ")[0] for event in Clues(course_of(soak)).events} == {
        f"{named} {number}: no" for number in (4, 8, 12)
    }


def fail_start(soak, number: int) -> None:
    on_s, until_s = number * 90.0 + OFF_S, (number + 1) * 90.0
    soak.state_list = [
        s for s in soak.state_list if s.source != "capture" or not on_s < s.t_s <= until_s
    ]
    for index, mark in enumerate(soak.mark_list):
        if mark.what == "start ended" and mark.detail["number"] == number + 1:
            detail = {**mark.detail, "seen": False, "took_s": None}
            soak.mark_list[index] = type(mark)(
                until_s - 1, mark.what, mark.stretch, mark.check, detail
            )
