"""Each judging rule: met, not met, not shown, not tested."""

from dataclasses import replace

import numpy as np
import pytest
from made_up_soak import (
    CYCLE_S,
    FIXTURE,
    HOT_S,
    OFF_S,
    STARTS_S,
    TOOK_S,
    clean_night,
    demand,
    fail_start,
)

from soak.judge.judging import judge_requirement
from soak.rules.core.verdict import Verdict

HOT = STARTS_S + 3600.0
PROBE = frozenset({"probe"})
STICK = {"check": "transfer", "needs": frozenset({"stick"})}
CAPTURE = {"needs": frozenset({"capture"}), "longest_blind_s": 300.0}

DEMANDS = {
    "starts": demand(
        "starts",
        confidence=0.95,
        needs=frozenset({"switch", "capture"}),
        params={"promised": 20, "start_limit_s": 60.0},
    ),
    "off proved": demand("off proved", needs=frozenset({"switch", "capture"})),
    "no dropout": demand("no dropout", "capture", confidence=0.95, **CAPTURE),
    "no restart": demand("no restart", "capture", **CAPTURE),
    "dropouts per hour": demand("dropouts per hour", "capture", 1.0, **CAPTURE),
    "at most": demand(
        "at most", "probe.outside", 60.0, unit="degC", guarded=True, needs=PROBE, check="spots"
    ),
    "at least": demand(
        "at least", "probe.outside", 20.0, unit="degC", guarded=True, needs=PROBE, check="spots"
    ),
    "rise at most": demand(
        "rise at most",
        "probe.outside",
        35.0,
        unit="K",
        guarded=True,
        needs=PROBE,
        check="spots",
        params={"ambient": "probe.ambient", "ambient_low_degc": 15.0, "ambient_high_degc": 30.0},
    ),
    "no trip": demand("no trip", "probe.outside", needs=PROBE, check="spots"),
    "steady": demand(
        "steady",
        "probe.outside",
        3.0,
        unit="K",
        needs=PROBE,
        check="spots",
        params={"within_k": 3.0, "window_s": 1800.0},
    ),
    "no wrong data": demand("no wrong data", "transfer.stick.damaged", unit="B", **STICK),
    "no stall": demand("no stall", "transfer.stick.chunk_s", 5.0, unit="s", **STICK),
    "speed kept": demand("speed kept", "transfer.stick.speed", 0.6, **STICK),
    "stick stayed": demand("stick stayed", "stick", **STICK),
    "failure free": demand("failure free", "", 7200.0, unit="s", **CAPTURE),
    "fault gone": demand(
        "fault gone",
        "capture",
        0.05,
        params={"seen": 5, "bouts": 5, "seen_in_s": 14400.0},
        **CAPTURE,
    ),
    "answered": demand("answered", "look.closed", None, params={"wanted": "yes"}, check="look"),
}


def judged(rule, soak, **changes):
    """Judge one rule over one soak."""
    requirement = replace(DEMANDS[rule], **changes)
    return judge_requirement(requirement, [soak.demanding(requirement)])


def set_all(soak, quantity, value):
    """Let a quantity have one value throughout."""
    t_s, old = soak.readings[quantity]
    soak.readings[quantity] = (t_s, np.full_like(old, value))


def add(soak, quantity, from_s, by):
    """Shift a quantity from a time on."""
    t_s, old = soak.readings[quantity]
    soak.readings[quantity] = (t_s, old + by * (t_s >= from_s))


def lose_picture(soak, length_s):
    soak.spell("capture", HOT, HOT + length_s, "no signal")


def restart(soak):
    for name in ("speed", "chunk_s", "damaged"):
        t_s, value = soak.readings[f"transfer.stick.{name}"]
        keep = (t_s < HOT) | (t_s > HOT + 20)
        soak.readings[f"transfer.stick.{name}"] = (t_s[keep], value[keep])
    lose_picture(soak, 18)


def two_short_losses_an_hour(soak):
    for at in range(8):
        soak.spell("capture", HOT + 600 * at, HOT + 600 * at + 0.1, "black")


def run_away(soak):
    t_s, value = soak.readings["probe.outside"]
    soak.readings["probe.outside"] = (t_s, value + np.maximum(0.0, t_s - HOT) * 4.0 / 1800)


def damage(soak):
    soak.readings["transfer.stick.damaged"][1][500] = 512.0


def stall(soak):
    soak.readings["transfer.stick.chunk_s"][1][500] = 9.0


def slow_down(soak):
    t_s, value = soak.readings["transfer.stick.speed"]
    soak.readings["transfer.stick.speed"] = (t_s, np.where(t_s > HOT, value / 2, value))


def late_dropout(soak):
    soak.spell("capture", STARTS_S + HOT_S - 600, STARTS_S + HOT_S - 597, "black")


def answer(soak, what):
    soak.mark(10.0, "answer", id="look.closed", answer=what, by="AB")


def spoil(soak, name, value):
    set_all(soak, name, value)


SPOILT = {
    "starts": lambda soak: fail_start(soak, 7),
    "no dropout": lambda soak: lose_picture(soak, 3),
    "no restart": restart,
    "dropouts per hour": two_short_losses_an_hour,
    "at most": lambda soak: add(soak, "probe.outside", HOT, 20.0),
    "at least": lambda soak: freeze(soak),
    "rise at most": lambda soak: add(soak, "probe.outside", HOT, 10.0),
    "no trip": lambda soak: soak.mark(HOT, "trip", source="probe.outside", value=71, limit=70),
    "steady": run_away,
    "no wrong data": damage,
    "no stall": stall,
    "speed kept": slow_down,
    "stick stayed": lambda soak: soak.spell("stick", HOT, HOT + 5, "gone"),
    "failure free": late_dropout,
    "fault gone": late_dropout,
    "answered": lambda soak: answer(soak, "no"),
}


def freeze(soak):
    """Let the room grow cold, and the unit with it: a spot alone would be a probe that came off."""
    for name in ("outside", "ambient"):
        add(soak, f"probe.{name}", HOT, -40.0)


def prepared(rule):
    """Return a clean night in which the operator has answered."""
    soak = clean_night()
    if rule == "answered":
        answer(soak, "yes")
    return soak


@pytest.mark.parametrize("rule", sorted(DEMANDS))
def test_clean_night_meets_every_rule(rule):
    """A good unit under a good bench meets each demand, and the finding says why in a sentence."""
    finding = judged(rule, prepared(rule))
    assert finding.verdict == Verdict.MET, finding.because
    assert finding.because.endswith(".")
    assert finding.method


@pytest.mark.parametrize("rule", sorted(SPOILT))
def test_fault_is_not_met_and_points_at_it(rule):
    """The fault that a rule is for makes it not met, with a place to look."""
    soak = clean_night()
    SPOILT[rule](soak)
    finding = judged(rule, soak)
    assert finding.verdict == Verdict.NOT_MET, finding.because
    assert finding.pointers
    if finding.margin is not None:
        assert finding.margin < 0


@pytest.mark.parametrize("rule", sorted(SPOILT))
def test_fault_counts_though_the_stretch_has_holes(rule):
    """A fault that was seen is not met, also where half the stretch was never observed."""
    soak = clean_night()
    SPOILT[rule](soak)
    for source in ("capture", "stick", "probe.outside", "probe.ambient"):
        soak.spell(source, STARTS_S + 400, STARTS_S + 2400, "blind")
    assert judged(rule, soak).verdict == Verdict.NOT_MET


@pytest.mark.parametrize("rule", sorted(DEMANDS))
def test_stretch_never_begun_is_not_shown(rule):
    """Promised evidence that was never gathered shows nothing."""
    soak = clean_night(starts=0)
    soak.pieces.clear()
    soak.mark_list.clear()
    soak.readings.clear()
    soak.ends_s = 20.0
    finding = judged(rule, soak)
    assert finding.verdict == Verdict.NOT_SHOWN, finding.because


@pytest.mark.parametrize("rule", sorted(set(DEMANDS) - {"answered"}))
def test_missing_instrument_is_not_tested(rule):
    """Without the role that it needs a demand is not tested, whatever else is there."""
    soak = clean_night().with_header(fixture={"name": "bare"})
    requirement = replace(DEMANDS[rule], needs=DEMANDS[rule].needs or frozenset({"capture"}))
    finding = judge_requirement(requirement, [soak.demanding(requirement)])
    assert finding.verdict == Verdict.NOT_TESTED


@pytest.mark.parametrize(
    "rule", ["no wrong data", "no stall", "speed kept", "stick stayed"], ids=str
)
@pytest.mark.parametrize("path", ["bench_only", "played", "carried", "stood_in"])
def test_stick_in_the_benchs_computer_is_not_tested(rule, path):
    """No demand on the unit's port is met by a stick that hangs on the bench."""
    soak = clean_night()
    damage(soak)
    own = {**FIXTURE, "stick": {"driver": "folder", "path": path}}
    assert judged(rule, soak.with_header(fixture=own)).verdict == Verdict.NOT_TESTED


@pytest.mark.parametrize(
    ("rule", "source"),
    [
        ("no dropout", "capture"),
        ("dropouts per hour", "capture"),
        ("at most", "probe.outside"),
        ("rise at most", "probe.ambient"),
        ("no trip", "probe.outside"),
        ("no wrong data", "stick"),
        ("no stall", "stick"),
        ("speed kept", "stick"),
        ("stick stayed", "stick"),
    ],
)
def test_blind_for_too_long_is_not_shown(rule, source):
    """Ten blind minutes of four hours are 4 %, more than the 2 % allowed."""
    soak = clean_night()
    soak.spell(source, HOT, HOT + 600, "blind")
    finding = judged(rule, soak)
    assert finding.verdict == Verdict.NOT_SHOWN
    assert "blind" in finding.because or "observed" in finding.because


def test_one_long_blindness_is_not_shown_though_the_share_is_small():
    """Four minutes at one time are too many where one is allowed, though under 2 % of the time."""
    soak = clean_night()
    soak.spell("capture", HOT, HOT + 240, "blind")
    assert judged("no dropout", soak).verdict == Verdict.MET
    finding = judged("no dropout", soak, longest_blind_s=60.0)
    assert finding.verdict == Verdict.NOT_SHOWN
    assert "4 min" in finding.because


@pytest.mark.parametrize("because", ["not after", "stopped", "skipped"])
def test_stretch_that_ended_early_is_not_shown(because):
    """A stretch that the clock or the operator ended shows nothing."""
    soak = clean_night()
    soak.mark_list = [
        replace(mark, detail={"because": because}) if mark.what == "stretch ends" else mark
        for mark in soak.mark_list
    ]
    finding = judged("no dropout", soak)
    assert finding.verdict == Verdict.NOT_SHOWN
    assert because in finding.because


def test_stretch_shorter_than_promised_is_not_shown():
    """Half of the promised hours are not enough, whatever the stretch says of its end."""
    soak = clean_night()
    script = {"stretches": [{"name": "hot run", "lasts_s": 2 * HOT_S, "checks": {"picture": {}}}]}
    finding = judged("no dropout", soak.with_header(script=script))
    assert finding.verdict == Verdict.NOT_SHOWN
    assert "4 h of 8 h" in finding.because


def test_too_few_starts_are_not_shown():
    """Twenty starts where sixty were promised show too little."""
    requirement = {"params": {"promised": 60, "start_limit_s": 60.0}}
    finding = judged("starts", clean_night(), **requirement)
    assert finding.verdict == Verdict.NOT_SHOWN
    assert "20 of 60" in finding.because


def test_slow_start_fails():
    """A picture after 20 s where 15 s are allowed is a failed start."""
    finding = judged("starts", clean_night(), params={"promised": 20, "start_limit_s": 15.0})
    assert (finding.verdict, finding.value) == (Verdict.NOT_MET, 20)
    assert "too slow" in finding.because


def test_start_that_looks_slow_to_a_blind_bench_is_not_charged():
    """Told to have taken 65 s, by a capture that was blind from before the limit to the picture."""
    soak = clean_night()
    on_s = 7 * CYCLE_S + OFF_S
    soak.mark_list = [
        replace(mark, detail={**mark.detail, "took_s": 65.0})
        if mark.what == "start ended" and mark.t_s == on_s + TOOK_S
        else mark
        for mark in soak.mark_list
    ]
    assert judged("starts", soak).verdict == Verdict.NOT_MET
    looked_away = (on_s + 1, on_s + 11)
    soak.spell("capture", *looked_away, "blind")
    assert judged("starts", soak, blind_allowed=0.05).verdict == Verdict.NOT_MET
    soak.spell("capture", on_s + 11, on_s + 64, "blind")
    assert judged("starts", soak, blind_allowed=0.05).verdict == Verdict.MET


def test_no_failure_in_twenty_starts_states_the_success_run_bound():
    """0 of 20 at 95 % one-sided: below 0.139108 (Clopper & Pearson 1934, computed elsewhere)."""
    finding = judged("starts", clean_night())
    assert (finding.value, finding.bound_low) == (0, None)
    assert finding.bound_high == pytest.approx(0.139108, abs=5e-7)
    assert "Clopper & Pearson 1934" in finding.method


def test_no_dropout_in_four_hours_states_the_poisson_bound():
    """Zero in 4 h at 95 %: fewer than 2.99573 / 4 an hour (NIST/SEMATECH e-Handbook 8.4.5.1)."""
    assert judged("no dropout", clean_night()).bound_high == pytest.approx(2.99573 / 4, rel=1e-3)


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({}, None),
        ({"longest_still_s": 24.0}, "A freeze shorter than 24 s is not told from a still"),
        ({"longest_black_s": 3.0}, "A loss to black shorter than 3 s is not told from a black"),
    ],
)
def test_a_verdict_on_dropouts_says_what_the_models_own_rests_may_hide(told, said):
    """What is printed hangs on the sheet that was frozen with the soak."""
    soak = clean_night()
    soak.header = replace(soak.header, model_sheet=soak.header.model_sheet.model_copy(update=told))
    because = judged("no dropout", soak).because
    assert said in because if said else "not told from" not in because


def test_welded_relay_is_not_shown_and_never_not_met():
    """Where off could not be proved the bench is at fault."""
    soak = clean_night()
    soak.mark(500.0, "off not proved", "starts", "power_cycles", by="capture", after_s=10.0)
    finding = judged("off proved", soak)
    assert finding.verdict == Verdict.NOT_SHOWN
    assert "relay" in finding.because


def test_an_off_that_nothing_saw_is_not_said_to_be_alive_by_nothing():
    """Where no instrument sees the unit the place to look says just that."""
    soak = clean_night()
    soak.mark(500.0, "off not proved", "starts", "power_cycles", by="nothing", after_s=10.0)
    [pointer] = judged("off proved", soak).pointers
    assert pointer.what == "commanded off, and nothing saw whether it was"


@pytest.mark.parametrize(
    ("reading", "verdict"),
    [
        (58.9, Verdict.MET),
        (59.1, Verdict.NOT_SHOWN),
        (60.9, Verdict.NOT_SHOWN),
        (61.1, Verdict.NOT_MET),
    ],
)
def test_guarded_limit_keeps_the_accuracy_clear(reading, verdict):
    """Limit 60 with a probe good to 1: shown up to 59, broken from 61 (guard band, JCGM 106)."""
    soak = clean_night()
    set_all(soak, "probe.outside", reading)
    assert judged("at most", soak).verdict == verdict


def test_simple_limit_takes_the_reading_as_it_is():
    """Simple acceptance: 60.0 is within a limit of 60, 60.1 is not (ILAC-G8:09/2019)."""
    soak = clean_night()
    set_all(soak, "probe.outside", 60.0)
    assert judged("at most", soak, guarded=False).verdict == Verdict.MET
    set_all(soak, "probe.outside", 60.1)
    assert judged("at most", soak, guarded=False).verdict == Verdict.NOT_MET


def test_guarded_limit_without_a_stated_accuracy_is_not_shown():
    """What is not known cannot be kept clear of the limit; the finding says what to add."""
    soak = clean_night()
    unstated = tuple(replace(q, accuracy=None) for q in soak.header.quantities)
    finding = judged("at most", soak.with_header(quantities=unstated))
    assert finding.verdict == Verdict.NOT_SHOWN
    assert "accuracy" in finding.because


def test_surroundings_outside_their_band_are_not_shown():
    """A rise measured in a room of 35 degrees shows nothing about the unit."""
    soak = clean_night()
    set_all(soak, "probe.ambient", 35.0)
    finding = judged("rise at most", soak)
    assert finding.verdict == Verdict.NOT_SHOWN
    assert "band" in finding.because


def test_room_out_of_band_for_an_hour_is_not_shown():
    """An hour of four with the room too warm is a hole of a quarter."""
    soak = clean_night()
    t_s, value = soak.readings["probe.ambient"]
    warm = (t_s > HOT) & (t_s < HOT + 3600)
    soak.readings["probe.ambient"] = (t_s, np.where(warm, 31.0, value))
    finding = judged("rise at most", soak)
    assert finding.verdict == Verdict.NOT_SHOWN
    assert "band" in finding.because


def test_probe_that_falls_silent_unsaid_is_not_shown():
    """Ten minutes without a reading are blind, though the probe claims to be seen."""
    soak = clean_night()
    t_s, value = soak.readings["probe.outside"]
    keep = (t_s < HOT) | (t_s > HOT + 600)
    soak.readings["probe.outside"] = (t_s[keep], value[keep])
    assert judged("at most", soak).verdict == Verdict.NOT_SHOWN


def test_transfer_that_stops_unsaid_is_not_shown():
    """A transfer that hung after an hour without a word shows nothing after that."""
    soak = clean_night()
    for name in ("speed", "chunk_s", "damaged", "written"):
        t_s, value = soak.readings[f"transfer.stick.{name}"]
        soak.readings[f"transfer.stick.{name}"] = (t_s[t_s < HOT], value[t_s < HOT])
    for rule in ("no stall", "speed kept", "no wrong data"):
        assert judged(rule, soak).verdict == Verdict.NOT_SHOWN


def test_chunk_that_the_bench_interrupted_is_no_stall():
    """A chunk that took long because the stick's bench side was blind is nobody's stall."""
    soak = clean_night()
    stall(soak)
    when_s = soak.readings["transfer.stick.chunk_s"][0][500]
    soak.spell("stick", when_s - 8, when_s - 1, "blind")
    assert judged("no stall", soak).verdict == Verdict.MET


def test_still_warming_up_is_not_shown():
    """A unit that still rises, but ever slower, needs a longer run, not a repair."""
    soak = clean_night()
    t_s, _ = soak.readings["probe.outside"]
    slow = 25 + 80 * (1 - np.exp(-np.maximum(t_s - STARTS_S, 0) / 9000))
    soak.readings["probe.outside"] = (t_s, slow)
    finding = judged("steady", soak)
    assert finding.verdict == Verdict.NOT_SHOWN
    assert "run longer" in finding.because


def test_fault_long_before_the_end_leaves_the_tail_free():
    """A dropout an hour into the hot run leaves three clean hours, and two are demanded."""
    soak = clean_night()
    lose_picture(soak, 3)
    assert judged("failure free", soak).verdict == Verdict.MET


def test_resume_restarts_the_failure_free_tail():
    """A run with a break in it is never put together: one clean hour after a resume is one hour."""
    soak = clean_night()
    resumed = replace(
        soak.session_list[0],
        number=2,
        begins_at_s=STARTS_S + HOT_S - 3600,
        gap_s=10.0,
        gap_from="boot clock",
    )
    soak.session_list.append(resumed)
    at_s = resumed.begins_at_s
    soak.mark(at_s + 1, "power", on=True, channel="1", why="stretch hot run")
    soak.spell("capture", at_s + 0.5, at_s + 21, "no signal")
    assert judged("failure free", soak).verdict == Verdict.NOT_SHOWN


def test_unanswered_question_is_not_shown():
    """Nobody answered in time: that is no answer."""
    soak = clean_night()
    soak.mark(10.0, "answer", id="look.closed", answer=None, by="")
    assert judged("answered", soak).verdict == Verdict.NOT_SHOWN


def test_unknown_rule_is_not_shown():
    """A journal of a newer program is judged as far as this one can, and says so."""
    requirement = replace(DEMANDS["no dropout"], rule="sings in tune")
    finding = judge_requirement(requirement, [clean_night().demanding(requirement)])
    assert finding.verdict == Verdict.NOT_SHOWN
    assert "update soak" in finding.because


def test_two_nights_add_up():
    """Twenty good starts in each of two soaks are forty: 0 of 40 bounds the share below 7.3 %."""
    nights = [
        clean_night("S1").demanding(DEMANDS["starts"]),
        clean_night("S2", "2026-01-06T21:00:00Z").demanding(DEMANDS["starts"]),
    ]
    finding = judge_requirement(DEMANDS["starts"], nights)
    assert finding.detail["starts"] == 40
    assert finding.bound_high == pytest.approx(1 - 0.05 ** (1 / 40))


def test_pieces_of_two_nights_are_never_put_together():
    """Two nights of which each was observed for half show no whole one."""
    nights = []
    for name, from_s in (("S1", 0.0), ("S2", HOT_S / 2)):
        soak = clean_night(name)
        soak.spell("capture", STARTS_S + from_s + 1, STARTS_S + from_s + HOT_S / 2 - 1, "blind")
        nights.append(soak.demanding(DEMANDS["no dropout"]))
    assert judge_requirement(DEMANDS["no dropout"], nights).verdict == Verdict.NOT_SHOWN


def test_torn_probe_is_the_benchs_fault():
    """A thermocouple that reads 1372 degrees after it came off is a hole, also if the guard cut."""
    soak = clean_night()
    t_s, value = soak.readings["probe.outside"]
    soak.readings["probe.outside"] = (t_s, np.where(t_s > HOT, 1372.0, value))
    soak.mark(HOT + 1, "trip", source="probe.outside", value=1372.0, limit=70)
    for rule in ("at most", "rise at most", "steady", "no trip", "failure free"):
        assert judged(rule, soak).verdict == Verdict.NOT_SHOWN, rule


def test_resumed_stretch_adds_its_pieces():
    """A crash in the middle and a resume: the observed hours of both sessions count together."""
    soak = clean_night()
    soak.mark(HOT + 5, "operator left")
    resumed = replace(soak.session_list[0], number=2, begins_at_s=HOT + 500, gap_s=490.0)
    soak.session_list.append(replace(resumed, gap_from="wall clock"))
    soak.spell("capture", HOT + 510, HOT + 560, "no signal")
    soak.mark(HOT + 530, "power", on=True, channel="1", why="stretch hot run")
    soak.pieces["hot run"] = [(STARTS_S, HOT + 10), (HOT + 501, STARTS_S + HOT_S)]
    finding = judged("no dropout", soak, blind_allowed=0.05)
    assert finding.verdict == Verdict.MET, finding.because
    assert finding.detail["hours"] == pytest.approx((HOT_S - 491 - 59) / 3600, abs=5 / 3600)
