"""What events go with besides heat: each hint where it is so, and none where it is luck."""

import numpy as np
import pytest
from made_up_soak import HOT_S, STARTS_S, clean_night, demand
from scipy.stats import mannwhitneyu

from soak.derive.course import course_of
from soak.judge.explain.causes import probable_causes
from soak.judge.explain.clues import Clues
from soak.judge.explain.hints import (
    lanes_lost,
    rank_chances,
    slow_after_short_off,
    with_late_reads,
    with_movement,
    with_other_ports,
    with_uptime,
)
from soak.records import Mark, State

BAD = ["black", "no signal", "frozen"]
NO_DROPOUT = demand("no dropout", "capture", params={"bad": BAD, "at_least_s": 0.2})


def night():
    return clean_night().demanding(NO_DROPOUT)


def lost(soak, *times):
    for t_s in times:
        soak.spell("capture", t_s, t_s + 1.0, "no signal")
    return soak


def clues_of(soak):
    clues = Clues(course_of(soak))
    return clues, clues.of("dropout", "restart", "hang")


def at(fraction):
    return STARTS_S + 600 + fraction * (HOT_S - 1200)


def test_rank_chances_agree_with_a_second_library():
    """By scipy's Mann-Whitney, normal approximation without correction, both sides."""
    chance = np.random.default_rng(1)
    some, usual = chance.normal(0.8, 1, 7), chance.normal(0, 1, 300)
    high, low = rank_chances(some, usual)
    for found, side in ((high, "greater"), (low, "less")):
        expected = mannwhitneyu(some, usual, False, side, method="asymptotic")
        assert found == pytest.approx(expected.pvalue, rel=1e-6)


def test_losses_soon_after_power_on_are_said_to_come_so():
    """Five losses within minutes of the last power-on of a night of four hours."""
    begins_s = STARTS_S - 60  # the last start of the made-up night
    clues, events = clues_of(lost(night(), *(begins_s + 70 + 40 * n for n in range(5))))
    assert "soon after power-on" in with_uptime(clues, events)


def test_losses_only_late_are_said_to_come_after_long_running():
    """Five losses in the last twentieth of four hours."""
    clues, events = clues_of(lost(night(), *(at(0.95) + 60 * n for n in range(5))))
    assert "after long running" in with_uptime(clues, events)


def test_losses_spread_over_the_night_go_with_no_uptime():
    """Evenly spread: nothing is said of uptime."""
    clues, events = clues_of(lost(night(), *(at(n / 6) for n in range(1, 6))))
    assert with_uptime(clues, events) == ""


def wiggled(*lost_at):
    """Move a plug ten times for 10 s with rests of 10 s between, from one hour on."""
    soak, from_s = lost(night(), *lost_at), STARTS_S + 3600
    for number in range(10):
        t_s = from_s + 20 * number
        for begins_s, movement in ((t_s, "left"), (t_s + 10, "rest")):
            told = {"port": "video", "movement": movement, "repeat": number}
            soak.mark(begins_s, "movement begins", "hot run", "wiggle", lasts_s=9, **told)
            lasts_s = 9.5 if movement == "rest" else 6.5
            soak.mark(begins_s + lasts_s, "movement ends", "hot run", "wiggle", **told)
    return soak


def test_losses_while_a_plug_is_moved_are_said_to_come_so():
    """Eight of eight in movements, none in the rests: 2^-8 by luck, about."""
    from_s = STARTS_S + 3600
    clues, events = clues_of(wiggled(*(from_s + 20 * n + 2 for n in range(8))))
    assert "when its plug was moved (8 of 8" in with_movement(clues, events)
    assert "when its plug was moved" in probable_causes([clues.course])[0].text


def test_losses_in_movements_and_rests_alike_are_not():
    """Four in movements and four in rests: nothing to say."""
    from_s = STARTS_S + 3600
    times = [from_s + 20 * n + (2 if n % 2 else 12) for n in range(8)]
    assert with_movement(*clues_of(wiggled(*times))) == ""


def test_two_ports_lost_at_one_moment_point_at_what_they_share():
    """Stick in one port and a device in another, gone together three times."""
    soak = night()
    soak = soak.with_header(
        fixture={**soak.header.fixture.as_json(), "link": {"driver": "simulated", "port": "usb2"}}
    )
    soak.state_list.append(State(0.0, "link", "seen"))
    for fraction in (0.2, 0.5, 0.7):
        for source in ("stick", "link"):
            soak.spell(source, at(fraction), at(fraction) + 3, "gone")
    assert "two ports at one moment, 3 times" in with_other_ports(Clues(course_of(soak)))
    assert "rather what they share" in probable_causes([soak])[0].text


def test_late_reads_before_errors_are_their_heralds():
    """A late read a minute before each of four errors, none elsewhere."""
    soak = night()
    t_s, took_s = soak.readings["transfer.stick.chunk_s"]
    took_s, times = took_s.copy(), [at(f) for f in (0.2, 0.4, 0.6, 0.8)]
    for error_s in times:
        took_s[np.argmin(np.abs(t_s - (error_s - 60)))] = 3.0
        soak.spell("stick", error_s, error_s + 3, "gone")
    soak.readings["transfer.stick.chunk_s"] = (t_s, took_s)
    clues = Clues(course_of(soak))
    assert "late reads went before (4 of 4)" in with_late_reads(clues, clues.of("stick gone"))
    plain = Clues(course_of(night()))
    assert with_late_reads(plain, clues.of("stick gone")) == ""


def quick_starts(took_s):
    """Let every other start follow a short off and take so long."""
    soak = night()
    soak.mark_list = [_shortened(mark, took_s) for mark in soak.mark_list]
    return Clues(course_of(soak))


def _shortened(mark: Mark, took_s: float) -> Mark:
    if mark.detail.get("number", 1) % 2 or mark.what not in ("start", "start ended"):
        return mark
    changed = {"off_s": 1.0} if mark.what == "start" else {"took_s": took_s}
    return Mark(mark.t_s, mark.what, mark.stretch, mark.check, {**mark.detail, **changed})


def test_slow_starts_after_short_offs_are_said():
    """Ten starts after 1 s off take 34 s, ten after 30 s take 20 s: something keeps its charge."""
    assert "slow after short offs (median 34" in slow_after_short_off(quick_starts(34.0))
    assert slow_after_short_off(quick_starts(20.5)) == ""


def test_lost_colours_with_sparkle_point_at_one_pair_of_the_connector():
    """Three tints, two with sparkle beside them, and the picture never lost."""
    soak = night()
    soak.state_list += [State(0.0, f"capture.{kind}", "clean") for kind in ("tint", "sparkle")]
    for number, fraction in enumerate((0.2, 0.4, 0.6)):
        soak.spell("capture.tint", at(fraction), at(fraction) + 4, "tint")
        if number:
            soak.spell("capture.sparkle", at(fraction) + 1, at(fraction) + 3, "sparkle")
    assert lanes_lost(Clues(course_of(soak))) == (3, 2)
    (cause,) = probable_causes([soak])
    assert cause.key == "video port"
    assert "one pair of the video connector or cable" in cause.text
    assert "2 times with sparkle" in cause.text
