"""Dropouts, restarts, hangs, starts and holes, derived from made-up evidence."""

from dataclasses import replace

import numpy as np
import pytest
from made_up_soak import CYCLE_S, FIXTURE, OFF_S, SHEET, STARTS_S, TOOK_S, clean_night, fail_start

from soak.derive.course import Course
from soak.derive.events.faults import unit_faults
from soak.derive.starting.starts import find_starts
from soak.records import Mark, Session, State
from soak.states import StartLimit

HOT = STARTS_S + 3600.0
BAD = frozenset({"black", "no signal", "frozen", "stalled", "other size"})


def kinds(soak):
    """Return the kinds of all faults of the unit."""
    return [fault.kind for fault in unit_faults(Course(soak))]


def without_data(soak, from_s, to_s):
    """Return the soak with no data crossing the port in between, as in a restart."""
    for name in ("speed", "chunk_s", "damaged", "written"):
        t_s, value = soak.readings[f"transfer.stick.{name}"]
        keep = (t_s < from_s) | (t_s > to_s)
        soak.readings[f"transfer.stick.{name}"] = (t_s[keep], value[keep])
    return soak


def test_clean_night_has_no_fault():
    """Twenty starts and off-times are no dropouts."""
    assert kinds(clean_night()) == []


def test_lost_picture_while_on_is_a_dropout():
    """A picture gone for 3 s in the middle of the hot run is one dropout of that length."""
    soak = clean_night()
    soak.spell("capture", HOT, HOT + 3, "no signal")
    (fault,) = unit_faults(Course(soak))
    assert (fault.kind, fault.from_s, fault.to_s) == ("dropout", HOT, HOT + 3)


def test_losses_within_two_seconds_are_one_episode():
    """Contacts bounce: losses up to 2 s apart are one episode, further apart two."""
    soak = clean_night()
    for begin_s in (HOT, HOT + 2, HOT + 4, HOT + 10):
        soak.spell("capture", begin_s, begin_s + 0.5, "black")
    found = Course(soak).episodes("capture", BAD)
    assert [len(episode.dropouts) for episode in found] == [3, 1]


def test_changing_bad_states_are_one_dropout():
    """Black, then no signal, then the picture again is one loss that names both."""
    soak = clean_night()
    soak.spell("capture", HOT, HOT + 4, "black")
    soak.state_list.append(State(HOT + 1, "capture", "no signal"))
    (loss,) = Course(soak).losses("capture", BAD)
    assert loss.states == ("black", "no signal")


def test_loss_as_long_as_a_start_is_a_restart():
    """The picture gone for as long as a start takes, with no data meanwhile, is a restart."""
    soak = without_data(clean_night(), HOT, HOT + 18)
    soak.spell("capture", HOT, HOT + 18, "no signal")
    assert kinds(soak) == ["restart"]


def test_loss_shorter_than_half_a_start_is_no_restart():
    """The picture back after 9 s, where starts take 20 s, was not restarted."""
    soak = without_data(clean_night(), HOT, HOT + 9)
    soak.spell("capture", HOT, HOT + 9, "no signal")
    assert kinds(soak) == ["dropout"]


def test_data_going_on_tells_a_loose_video_port_from_a_restart():
    """A unit that kept moving data over its port while the picture was gone ran on."""
    soak = clean_night(every_s=2.0)
    soak.spell("capture", HOT, HOT + 18, "no signal")
    assert kinds(soak) == ["dropout"]


def test_frozen_picture_that_goes_on_is_no_restart():
    """A picture that stood still for 30 s and went on was never gone."""
    soak = without_data(clean_night(), HOT, HOT + 30)
    soak.spell("capture", HOT, HOT + 30, "frozen")
    assert kinds(soak) == ["dropout"]


def test_picture_that_never_returns_while_on_is_a_hang():
    """A picture gone until the power goes an hour later is a hang."""
    soak = clean_night()
    soak.spell("capture", HOT, soak.ends_s, "black")
    assert kinds(soak) == ["hang"]


def test_loss_with_the_switch_off_is_none():
    """A relay opens before its board answers: what is lost just before an off is not charged."""
    soak = clean_night()
    off_s = 5 * CYCLE_S
    soak.state_list = [
        replace(state, t_s=off_s - 0.5) if state.t_s == off_s + 0.1 else state
        for state in soak.state_list
    ]
    assert kinds(soak) == []


def test_switch_by_hand_charges_nothing_from_the_question_on():
    """With a plug pulled by hand the picture is gone long before the operator says so."""
    soak = clean_night()
    off_s = 5 * CYCLE_S
    soak.spell("capture", off_s - 25, off_s + 0.1, "no signal")
    assert kinds(soak) == ["dropout"]
    soak.mark(off_s - 30, "question", id="power off", text="Pull the plug", expects="done")
    by_hand = {**FIXTURE, "switch": {"driver": "by_hand", "channel": "1"}}
    assert kinds(soak.with_header(fixture=by_hand)) == []


@pytest.mark.parametrize(("lost_s", "charged_s"), [(1, 0), (9, 0), (20, 10), (3000, 2990)])
def test_after_a_blind_capture_ten_seconds_may_be_its_reopening(lost_s, charged_s):
    """Picture, blind, then no signal: what goes on for longer than any reopening is the unit's."""
    soak = clean_night()
    soak.spell("capture", HOT, HOT + 30 + lost_s, "no signal")
    soak.spell("capture", HOT, HOT + 30, "blind")
    course = Course(soak)
    assert sum(f.to_s - f.from_s for f in unit_faults(course)) == pytest.approx(charged_s)
    doubtful = [loss for loss in course.losses("capture", BAD) if not loss.charged]
    assert [loss.length_s for loss in doubtful] == pytest.approx([min(lost_s, 10)])


@pytest.mark.parametrize("state", ["frozen", "no signal", "black"])
@pytest.mark.parametrize("since_s", [-0.3, 0.0, 0.05, 1.0, 9.0])
def test_a_hiccup_explains_no_more_than_itself(state, since_s):
    """Gone for 0.1 s, why is not told, and the picture lost for 8 s beside it: the unit's."""
    soak = clean_night()
    soak.spell("capture", HOT + since_s, HOT + since_s + 8, state)
    soak.spell("capture", HOT, HOT + 0.1, "blind")
    assert sum(f.to_s - f.from_s for f in unit_faults(Course(soak))) > 6


def test_a_driver_that_was_late_opened_nothing_again():
    """Its own word that it only came late, for 3 s, explains nothing after it."""
    soak = clean_night()
    soak.spell("capture", HOT + 3, HOT + 10, "frozen")
    soak.spell("capture", HOT, HOT + 3, "blind")
    assert kinds(soak) == []
    (blind,) = [state for state in soak.state_list if state.state == "blind"]
    soak.state_list.remove(blind)
    soak.state_list.append(replace(blind, detail={"why": "too busy", "late": True}))
    (fault,) = unit_faults(Course(soak))
    assert fault.to_s - fault.from_s == pytest.approx(7, abs=0.1)


def test_a_computer_that_stood_still_is_a_hole_of_everything_and_no_more():
    """Stopped for 50 s: nothing was seen meanwhile, whatever was seen goes on being the unit's."""
    soak = clean_night()
    soak.mark(HOT + 50, "stood still", for_s=50.0, spans=[[HOT, HOT + 50]])
    soak.spell("capture", HOT + 100, HOT + 103, "no signal")
    course = Course(soak)
    for source in ("capture", "stick", "probe.outside"):
        assert (HOT, HOT + 50) in course.blind(source)
    assert kinds(soak) == ["dropout"]


def test_a_stick_that_is_gone_with_its_link_is_the_units_beside_any_hole():
    """The link saw the device leave the port: the hole of the stick leaves no doubt of it."""
    soak = clean_night()
    soak.spell("stick", HOT + 2, HOT + 5, "gone")
    soak.spell("stick", HOT, HOT + 2, "blind")
    assert kinds(soak) == []
    soak.state_list.append(State(0.0, "link", "seen"))
    soak.spell("link", HOT + 0.5, HOT + 4.5, "gone")
    fixture = {**FIXTURE, "link": {"driver": "usb_link", "port": FIXTURE["stick"]["port"]}}
    assert kinds(soak.with_header(fixture=fixture)) == ["link gone", "stick gone"]


def test_a_picture_that_is_lost_with_the_current_is_the_units_beside_any_hole():
    """The meter saw the unit draw nothing while the card was being opened again."""
    soak = clean_night()
    soak.spell("capture", HOT + 3, HOT + 9, "no signal")
    soak.spell("capture", HOT, HOT + 3, "blind")
    t_s = np.arange(0.0, soak.ends_s, 1.0)
    probes = {**FIXTURE["probe"], "drawn": {"spot": "supply", "unit": "A"}}
    soak.state_list.append(State(0.0, "probe.drawn", "seen"))
    for least_a, found in ((0.9, []), (0.05, ["dropout"])):
        ampere = np.where((t_s > HOT + 4) & (t_s < HOT + 8), least_a, 1.0)
        soak.readings["probe.drawn"] = (t_s, ampere)
        assert kinds(soak.with_header(fixture={**FIXTURE, "probe": probes})) == found


def test_a_probe_that_said_nothing_for_longer_than_its_limit_was_not_seen():
    """No state tells of it, as its reader was stopped too: readings 40 s apart are a hole."""
    soak = clean_night()
    t_s, value = soak.readings["probe.outside"]
    keep = (t_s < HOT) | (t_s > HOT + 40)
    soak.readings["probe.outside"] = (t_s[keep], value[keep])
    outside = {**FIXTURE["probe"]["outside"], "silent_after_s": 10.0}
    probes = {**FIXTURE["probe"], "outside": outside}
    ((begins_s, ends_s),) = [
        span
        for span in Course(soak.with_header(fixture={**FIXTURE, "probe": probes})).blind(
            "probe.outside"
        )
        if span[0] > 0
    ]
    assert ends_s - begins_s > 40


def test_loss_just_before_a_blind_capture_is_the_benchs():
    """A card that shows nonsense for some seconds before it goes blind is the bench's trouble."""
    soak = clean_night()
    soak.spell("capture", HOT, HOT + 60, "blind")
    soak.spell("capture", HOT - 5, HOT, "no signal")
    assert kinds(soak) == []


def test_loss_seen_long_before_the_capture_went_blind_counts():
    """A picture gone for ten minutes under a seeing card counts up to where the card went blind."""
    soak = clean_night()
    soak.spell("capture", HOT, HOT + 700, "no signal")
    soak.spell("capture", HOT + 600, HOT + 700, "blind")
    (fault,) = unit_faults(Course(soak))
    assert (fault.from_s, fault.to_s) == pytest.approx((HOT, HOT + 600), abs=0.1)


def test_operators_word_turns_a_dropout_into_a_hole():
    """A note "that was me" over a dropout takes it off the unit."""
    soak = clean_night()
    soak.spell("capture", HOT, HOT + 3, "no signal")
    span = {"from_s": HOT - 5, "to_s": HOT + 5}
    soak.mark(HOT + 40, "note", text="bumped the cable", by="AB", was_me=False, **span)
    assert kinds(soak) == ["dropout"]
    soak.mark(HOT + 41, "note", text="bumped the cable", by="AB", was_me=True, **span)
    assert kinds(soak) == []


def test_picture_lost_with_the_supply_is_the_benchs():
    """A voltage probe at the inlet that reads nothing tells a dead adapter from a dead unit."""
    soak = clean_night()
    soak.spell("capture", HOT, HOT + 100, "no signal")
    t_s = np.arange(0.0, soak.ends_s, 5.0)
    volt = np.where((t_s > HOT) & (t_s < HOT + 100), 0.0, 12.0)
    soak.readings["probe.supply"] = (t_s, volt)
    soak.state_list.append(State(0.0, "probe.supply", "seen"))
    probes = {**FIXTURE["probe"], "supply": {"spot": "inlet", "unit": "V"}}
    assert kinds(soak) == ["dropout"]
    assert kinds(soak.with_header(fixture={**FIXTURE, "probe": probes})) == []


def test_switch_fault_makes_everything_a_hole_until_it_answers():
    """While nobody knows the power, nothing is charged."""
    soak = clean_night()
    soak.fault(HOT - 1, "switch", "did not answer")
    soak.spell("capture", HOT, HOT + 40, "no signal")
    assert kinds(soak) == []


def test_fault_of_an_instrument_that_still_sees_is_no_hole():
    """A stick that can no longer be written is still read: the mark alone hides nothing."""
    soak = clean_night()
    soak.fault(HOT, "stick", "it can no longer be written")
    course = Course(soak)
    assert sum(end - begin for begin, end in course.blind("stick")) == 0


@pytest.mark.parametrize(("since_s", "found"), [(8.5, []), (6.0, ["dropout"])])
def test_gap_between_sessions_is_a_hole_and_ends_the_power(since_s, found):
    """A crash in the hot run: power starts over; what was lost well before it is the unit's."""
    soak = clean_night()
    soak.session_list.append(
        Session(2, "0", "boot 2", "2026-01-06T00:00:00Z", HOT + 500, 490, "wall clock")
    )
    soak.mark(HOT + 5, "operator left")
    soak.spell("capture", HOT + since_s, HOT + 620, "no signal")
    soak.mark(HOT + 560, "power", on=True, channel="1", why="stretch hot run")
    course = Course(soak)
    assert course.session_spans[0][1] == HOT + 10
    assert [window for window in course.power if window[0] > STARTS_S] == [
        (HOT + 560, soak.ends_s - 4)
    ]
    assert kinds(soak) == found


def test_a_fault_of_the_guard_ends_with_the_session_at_the_latest():
    """The guard died just before the program: the next session sees everything again."""
    soak = clean_night()
    soak.fault(HOT + 9, "guard", "the guard has died")
    soak.mark(HOT + 10, "goes on")
    soak.session_list.append(
        Session(2, "0", "boot 1", "2026-01-06T00:00:00Z", HOT + 40, 30, "boot clock")
    )
    soak.state_list.append(State(HOT + 40, "capture", "no signal"))
    assert sum(b - a for a, b in Course(soak).blind("capture")) == pytest.approx(31, abs=0.2)


@pytest.mark.parametrize(("said", "found"), [("done", ["dropout"]), (None, []), ("no", [])])
def test_without_a_switch_the_unit_is_on_once_somebody_has_said_so(said, found):
    """One instrument is enough: a capture alone finds a dropout on a unit plugged in by hand."""
    soak = clean_night(starts=0)
    soak.mark_list = [mark for mark in soak.mark_list if mark.what != "power"]
    soak.mark(90.0, "answer", id="power on", answer=said)
    soak.mark(90.0, "power", on=True, channel="", why="by hand: no switch is wired")
    soak.state_list.append(State(100.0, "capture", "picture"))
    soak.spell("capture", HOT, HOT + 3, "no signal")
    soak = soak.with_header(fixture={"capture": {"driver": "simulated"}})
    assert kinds(soak)[:1] == found


def test_unit_that_never_shows_a_picture_is_charged_once():
    """Switched on by no check and dark for ever: that is a hang, not silence."""
    soak = clean_night(starts=0)
    soak.mark(100.0, "power", on=True, channel="1", why="stretch hot run")
    assert kinds(soak) == ["hang"]


def test_failed_start_is_one_fault_and_no_dropout():
    """No picture within the on-time of a cycle is a failed start and nothing else."""
    soak = clean_night()
    fail_start(soak, 7)
    (fault,) = unit_faults(Course(soak))
    assert (fault.kind, fault.from_s) == ("failed start", 7 * CYCLE_S + OFF_S)


@pytest.mark.parametrize(("seen_again_s", "counts"), [(15, True), (55, False), (75, False)])
def test_a_failed_start_counts_if_the_bench_saw_its_end(seen_again_s, counts):
    """A picture that came while nobody looked would have stood there afterwards."""
    soak = clean_night()
    fail_start(soak, 7)
    on_s = 7 * CYCLE_S + OFF_S
    soak.spell("capture", on_s - 5, on_s + seen_again_s, "blind")
    course = Course(soak)
    assert [fault.kind for fault in unit_faults(course)] == ["failed start"] * counts
    assert [start.number for start in course.starts if start.hole] == [8] * (not counts)


def test_start_after_an_off_that_was_none_counts_for_nothing():
    """A welded relay starts nothing: what follows it shows no start."""
    soak = clean_night()
    off_s = 7 * CYCLE_S
    soak.mark(off_s + 10, "off not proved", "starts", "power_cycles", by="capture", after_s=10.0)
    assert [start.number for start in Course(soak).starts if start.hole] == [8]


def test_start_cut_off_by_a_crash_is_no_failure():
    """A start whose end nobody saw is left out."""
    marks = [Mark(30.0, "start", "starts", "power_cycles", {"kind": "warm", "number": 1})]
    (start,) = find_starts(marks, [(30.0, 35.0)], [], [])
    assert start.hole
    assert not start.failure(60.0)


def test_a_header_of_old_is_judged_by_its_sheet_and_never_by_its_own_slow_starts():
    """A sheet of 20 s allows 40 s; a limit that it states stands, as does one that is demanded."""
    soak = clean_night()
    assert Course(soak).start_limit() == StartLimit(40.0, "usual start", 20.0)
    told = soak.with_header(model_sheet={**SHEET, "start_limit_s": 33.0})
    assert Course(told).start_limit() == StartLimit(33.0, "model sheet")
    assert Course(told).start_limit(44.0) == StartLimit(44.0, "demand")
    quick = soak.with_header(model_sheet={**SHEET, "start_s": 60.0})
    assert Course(quick).start_limit() == StartLimit(2 * TOOK_S + 10, "own starts")


def test_a_header_that_says_who_set_the_limit_is_believed():
    """Resolved once, when the soak was planned; what was reckoned first starts may draw closer."""
    told = {"start_limit_s": 90.0, "start_limit_from": "units like it", "start_limit_of": 4.0}
    soak = clean_night().with_header(terms=told)
    assert Course(soak).start_limit() == StartLimit(2 * TOOK_S + 10, "own starts")
    near = clean_night().with_header(terms={**told, "start_limit_s": 35.0})
    assert Course(near).start_limit() == StartLimit(35.0, "units like it", 4.0)
    old = clean_night().with_header(terms={"start_limit_s": 90.0})
    assert Course(old).start_limit() == StartLimit(90.0, "demand")


def test_faults_come_in_order_of_time():
    """Whatever saw them, the unit's faults are sorted."""
    soak = clean_night()
    soak.spell("capture", HOT + 50, HOT + 53, "black")
    soak.spell("stick", HOT + 20, HOT + 25, "gone")
    soak.readings["transfer.stick.damaged"][1][-1] = 512.0
    fail_start(soak, 2)
    assert kinds(soak) == ["failed start", "stick gone", "dropout", "wrong data"]


def test_stick_on_the_benchs_own_port_says_nothing_of_the_unit():
    """Wrong data and a vanished stick on the bench's computer are not the unit's."""
    soak = clean_night()
    soak.spell("stick", HOT, HOT + 25, "gone")
    soak.readings["transfer.stick.damaged"][1][-1] = 512.0
    own = {**FIXTURE, "stick": {"driver": "folder", "path": "bench_only"}}
    assert kinds(soak.with_header(fixture=own)) == []


def test_makers_sign_before_the_real_picture_is_part_of_the_start():
    """A sign after 3 s, black until 15 s, then the picture: one good start and no dropout."""
    soak = clean_night()
    on_s = 7 * CYCLE_S + OFF_S
    soak.mark_list = [
        replace(mark, t_s=on_s + 3, detail={**mark.detail, "took_s": 3.0})
        if mark.what == "start ended" and mark.t_s == on_s + TOOK_S
        else mark
        for mark in soak.mark_list
    ]
    soak.state_list += [
        State(on_s + 3, "capture", "picture"),
        State(on_s + 7, "capture", "black"),
        State(on_s + 15, "capture", "picture"),
    ]
    assert kinds(soak) == []


def test_unit_stuck_behind_the_makers_sign_hangs():
    """A sign after 3 s and black for ever after is no good start."""
    soak = clean_night(starts=0)
    soak.mark(100.0, "power", on=True, channel="1", why="stretch hot run")
    soak.state_list += [State(103.0, "capture", "picture"), State(107.0, "capture", "black")]
    assert kinds(soak) == ["hang"]


def test_what_a_hand_did_not_confirm_is_unknown_from_the_question_on():
    """Who does not answer may have switched all the same; of a relay only the answer is missing."""
    by_hand, relay = clean_night(), clean_night()
    by_hand.mark(HOT + 100, "question", id="switch.7.off", text="Switch it off now", expects="done")
    for soak in (by_hand, relay):
        soak.mark(HOT + 400, "power unanswered", on=False, channel="1", why="")
    begins = [Course(soak).told_holes[0].from_s for soak in (by_hand, relay)]
    assert begins == [HOT + 100, HOT + 400]


@pytest.mark.parametrize(
    ("source", "why"),
    [("switch", "the switch did not answer"), ("probe.outside", "a probe fell silent")],
)
def test_the_hole_of_a_silence_names_what_fell_silent(source, why):
    """A relay whose adapter was away is not a probe, and nobody should look at the thermometer."""
    soak = clean_night()
    soak.mark(HOT + 100, "silence", source=source)
    assert [str(hole.why) for hole in Course(soak).told_holes] == [why]
