"""The grade of a job: its order, its open points, and what it must never do."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_up_soak import HOT_S, SHEET, STARTS_S, MadeUpSoak, clean_night, demand, fail_start

from soak.errors import UsageError
from soak.frozen.shape import as_json
from soak.judge.grade import judge
from soak.records import Seal, to_json
from soak.rules.core.rule import RULES

HOT = STARTS_S + 3600.0
CAPTURE = frozenset({"capture"})
PROBE = frozenset({"probe"})
STICK = {"check": "transfer", "needs": frozenset({"stick"})}
SPOTS = {"check": "spots", "needs": PROBE}

OVERNIGHT = (
    demand(
        "starts", needs=CAPTURE, confidence=0.95, params={"promised": 20, "start_limit_s": 60.0}
    ),
    demand("off proved", needs=CAPTURE),
    demand("no dropout", "capture", needs=CAPTURE, shows_repair=frozenset({"picture"})),
    demand("dropouts per hour", "capture", 1.0, needs=CAPTURE),
    demand("no restart", "capture", needs=CAPTURE),
    demand("failure free", "", 7200.0, needs=CAPTURE),
    demand("at most", "probe.outside", 60.0, unit="degC", guarded=True, **SPOTS),
    demand("steady", "probe.outside", 3.0, unit="K", **SPOTS),
    demand("no trip", "probe.outside", **SPOTS),
    demand("no wrong data", "transfer.stick.damaged", shows_repair=frozenset({"usb"}), **STICK),
    demand("no stall", "transfer.stick.chunk_s", 5.0, **STICK),
    demand("speed kept", "transfer.stick.speed", 0.6, **STICK),
    demand("stick stayed", "stick", **STICK),
)


def night(soak_id="S1", utc="2026-01-05T21:00:00Z", **more) -> MadeUpSoak:
    """Return a clean night under the whole script."""
    return clean_night(soak_id, utc, **more).demanding(*OVERNIGHT)


def lose_picture(soak):
    soak.spell("capture", HOT, HOT + 3, "no signal")
    return soak


def with_unit(soak, **changes):
    return soak.with_header(unit={**as_json(soak.header.unit), **changes})


def test_clean_night_is_ready():
    """A good unit, a good bench and nothing open: ready, with rules and seal named."""
    judgement = judge([night()])
    assert (judgement.grade, judgement.because) == ("ready", "all met")
    assert judgement.rules == RULES
    assert judgement.seals == ("ab" * 32,)


def test_one_thing_not_met_is_failed_whatever_else_is_missing():
    """Failed comes before incomplete: there is something to mend in the unit."""
    soak = lose_picture(night())
    soak.spell("probe.outside", HOT, HOT + 3000, "blind")
    judgement = judge([soak])
    assert judgement.grade == "not ready: failed"
    assert "dropout" in judgement.reason.lower()


def test_hole_is_incomplete_and_never_failed():
    """What the bench did not see keeps the unit from being ready and says nothing against it."""
    soak = night()
    soak.spell("capture", HOT, HOT + 3000, "blind")
    assert judge([soak]).grade == "not ready: incomplete"


def test_nothing_wired_is_incomplete():
    """A unit of which nothing could be tested is not ready."""
    judgement = judge([night().with_header(fixture={"name": "bare"})])
    assert judgement.grade == "not ready: incomplete"
    assert "wired" in judgement.reason


def test_what_was_not_tested_does_not_block():
    """Without a stick the rest still makes the unit ready, and the reason counts what was not."""
    soak = night()
    fixture = {key: part for key, part in soak.header.fixture.as_json().items() if key != "stick"}
    judgement = judge([soak.with_header(fixture=fixture)])
    assert judgement.ready
    assert "4 were not tested" in judgement.reason


def test_repair_must_be_shown_by_a_met_demand():
    """A repair whose function no met demand names keeps the grade open."""
    repairs = [{"id": "1", "what": "USB port resoldered", "function": "usb", "kind": "", "on": ""}]
    assert judge([with_unit(night(), repairs=repairs)]).ready
    soak = night()
    fixture = {**soak.header.fixture.as_json(), "stick": {"driver": "folder", "path": "bench_only"}}
    judgement = judge([with_unit(soak.with_header(fixture=fixture), repairs=repairs)])
    assert judgement.grade == "not ready: incomplete"
    assert "USB port resoldered" in judgement.open_points[0]


def test_an_open_repair_names_its_function_as_the_model_sheet_does():
    """A person reads what the unit does, not the key that stands for it in the file."""
    repairs = [{"id": "1", "what": "USB port resoldered", "function": "usb", "kind": "", "on": ""}]
    soak = with_unit(night(), repairs=repairs)
    sheet = {
        **soak.header.model_sheet.model_dump(mode="json"),
        "functions": {"usb": {"text": "reads a stick"}},
    }
    fixture = {**soak.header.fixture.as_json(), "stick": {"driver": "folder", "path": "bench_only"}}
    judgement = judge([soak.with_header(fixture=fixture, model_sheet=sheet)])
    assert judgement.open_points[0].endswith("no requirement on 'reads a stick' was met.")


def test_repair_without_a_function_stays_open():
    """What was mended must be named, else nothing can show it."""
    repairs = [{"id": "1", "what": "cleaned", "function": "", "kind": "", "on": ""}]
    assert judge([with_unit(night(), repairs=repairs)]).because == "incomplete"


def test_data_not_wiped_stays_open():
    """A model that holds data needs a recorded wiping before it is sold."""
    soak = night().with_header(model_sheet={**SHEET, "holds_data": True})
    assert "wiping" in judge([soak]).reason
    wiped = {"how": "overwritten", "verified": True, "by": "AB", "on": "2026-01-05"}
    assert judge([with_unit(soak, wiped=wiped)]).ready


def test_data_of_which_nothing_was_said_stays_open():
    """Neither a yes nor a no: open until the sheet says, or a wiping is on record."""
    soak = night().with_header(model_sheet={**SHEET, "holds_data": None})
    assert "does not say whether this model holds data" in judge([soak]).reason
    wiped = {"how": "overwritten", "verified": True, "by": "AB", "on": "2026-01-05"}
    assert judge([with_unit(soak, wiped=wiped)]).ready


@pytest.mark.parametrize("ended", [None, "stopped", "bench fault"])
def test_soak_that_did_not_end_well_is_incomplete(ended):
    """Running, cut off, stopped, or ended by the bench: incomplete, never failed for it."""
    soak = night()
    soak.seal = Seal(soak.ends_s, ended) if ended else None
    judgement = judge([soak])
    assert judgement.grade == "not ready: incomplete"
    assert "S1" in judgement.reason


def test_fault_seen_before_the_soak_was_stopped_is_failed():
    """A soak is judged as far as it went."""
    soak = lose_picture(night())
    soak.seal = Seal(soak.ends_s, "stopped")
    assert judge([soak]).because == "failed"


def test_empty_journal_is_incomplete_with_a_reason():
    """A soak that was cut off in its first second is judged, not crashed on."""
    soak = night()
    empty = MadeUpSoak(soak.header)
    judgement = judge([empty])
    assert judgement.grade == "not ready: incomplete"
    assert judgement.reason
    assert judgement.seals == ("",)


def test_script_without_demands_is_incomplete():
    """Nothing demanded, nothing shown."""
    assert judge([clean_night()]).because == "incomplete"


def test_passing_at_the_third_try_is_not_hidden():
    """An earlier soak of the job that failed keeps the job failed, and is named."""
    first = lose_picture(night("S1"))
    # The second night's script demands something else, so only the first one's own demands show it.
    second = clean_night("S2", "2026-01-06T21:00:00Z").demanding(OVERNIGHT[0])
    judgement = judge([second, first])
    assert judgement.soaks == ("S1", "S2")
    assert judgement.grade == "not ready: failed"
    assert "S1" in judgement.open_points[0]
    assert "S1" in judgement.reason


def test_earlier_stopped_soak_does_not_block():
    """A first try that was stopped after an hour without a fault is no failure."""
    first = night("S1")
    first.seal = Seal(first.ends_s, "stopped")
    first.pieces["hot run"] = [(STARTS_S, HOT)]
    first.mark_list = [mark for mark in first.mark_list if mark.what != "stretch ends"]
    assert judge([first, night("S2", "2026-01-06T21:00:00Z")]).ready


def test_question_may_be_answered_anew():
    """A screw missing on the first look and there on the second keeps nothing failed."""
    look = demand("answered", "look.closed", None, params={"wanted": "yes"}, check="look")
    soaks = []
    for name, utc, said in (("S1", "2026-01-05T21:00:00Z", "no"), ("S2", "2026-01-06", "yes")):
        soak = clean_night(name, utc).demanding(*OVERNIGHT, look)
        soak.mark(1.0, "answer", id="look.closed", answer=said, by="AB")
        soaks.append(soak)
    assert judge(soaks[:1]).because == "failed"
    assert judge(soaks).ready


def test_repair_shown_in_an_earlier_soak_of_the_job_counts():
    """The evidence since the repair is one: a second night on another fixture does not undo it."""
    repairs = [{"id": "1", "what": "USB port resoldered", "function": "usb", "kind": "", "on": ""}]
    second = night("S2", "2026-01-06T21:00:00Z")
    fixture = {key: part for key, part in second.header.fixture.as_json().items() if key != "stick"}
    second = with_unit(second.with_header(fixture=fixture), repairs=repairs)
    assert not judge([second]).ready
    assert judge([with_unit(night(), repairs=repairs), second]).ready


def test_two_jobs_are_never_judged_together():
    """Evidence from before a repair says nothing about it."""
    other = clean_night("S2").with_header(job_id="J2")
    with pytest.raises(UsageError, match="2 jobs"):
        judge([clean_night("S1"), other])


def test_no_soak_at_all_is_refused():
    """There is nothing to judge."""
    with pytest.raises(UsageError, match="no soak"):
        judge([])


def test_other_script_replaces_the_demands():
    """The same evidence may be judged by other limits."""
    stricter = replace(OVERNIGHT[6], limit=45.0)
    script = {"name": "strict", "requirements": [to_json(stricter)]}
    judgement = judge([night()], script)
    assert judgement.because == "failed"
    assert [finding.requirement.limit for finding in judgement.findings] == [45.0]


@pytest.mark.parametrize(
    "entry", [{"id": "x"}, {**to_json(OVERNIGHT[0]), "confidence": 95.0}], ids=["half", "percent"]
)
def test_script_with_an_impossible_demand_is_refused(entry):
    """Half a demand, and a confidence written as 95, give one sentence."""
    with pytest.raises(UsageError, match="cannot be read"):
        judge([night()], {"name": "bad", "requirements": [entry]})


def test_judging_twice_gives_the_same():
    """Judgement is a pure function."""
    soak = lose_picture(night())
    assert judge([soak]) == judge([soak])


_SPELLS = st.lists(
    st.tuples(
        st.sampled_from(["capture", "stick", "probe.outside", "probe.ambient", "switch"]),
        st.floats(1.0, STARTS_S + HOT_S - 700),
        st.floats(0.05, 600.0),
    ),
    min_size=1,
    max_size=5,
)


@settings(max_examples=60)
@given(_SPELLS, st.booleans())
def test_blindness_of_the_bench_is_never_charged(spells, reopening):
    """Whatever goes blind and when, a good unit never fails; nor for a card that reopens slowly."""
    soak = night(every_s=60.0)
    for source, from_s, length_s in spells:
        if source == "capture" and reopening:
            soak.spell(source, from_s, from_s + length_s + min(9, 1 + length_s), "no signal")
        soak.spell(source, from_s, from_s + length_s, "blind")
    judgement = judge([soak])
    assert judgement.because != "failed", judgement.reason


@settings(max_examples=60)
@given(
    st.lists(
        st.tuples(st.floats(STARTS_S, STARTS_S + HOT_S - 60), st.floats(0.05, 50.0)), max_size=3
    ),
    st.floats(STARTS_S, STARTS_S + HOT_S - 60),
    st.floats(0.05, 50.0),
    st.sampled_from(["black", "no signal", "frozen"]),
)
def test_another_dropout_never_improves_the_grade(before, from_s, length_s, state):
    """More against the unit is never better for it."""
    order = ["failed", "incomplete", "all met"]
    soak, worse = night(every_s=60.0), night(every_s=60.0)
    for begin_s, seconds in before:
        soak.spell("capture", begin_s, begin_s + seconds, "black")
        worse.spell("capture", begin_s, begin_s + seconds, "black")
    worse.spell("capture", from_s, from_s + length_s, state)
    assert order.index(judge([worse]).because) <= order.index(judge([soak]).because)


def test_failed_start_is_named_in_the_reason():
    """The reason says which start it was and how it failed."""
    soak = night()
    fail_start(soak, 7)
    reason = judge([soak]).reason
    assert "19 of 20 starts" in reason
    assert "start 8" in reason


def test_reason_names_the_fault_and_not_what_follows_from_it():
    """That the end was not free of faults follows from the dropout: the dropout is named."""
    soak = night()
    begin_s = STARTS_S + HOT_S - 600
    soak.spell("capture", begin_s, begin_s + 3, "black")
    demands = sorted(OVERNIGHT, key=lambda one: one.rule != "failure free")
    reason = judge([soak.demanding(*demands)]).reason
    assert reason.startswith("2 of 13 requirements are not met: 1 dropout")


def test_reason_of_a_welded_relay_names_the_relay():
    """Every hole of such a night has one cause, and it is named first."""
    soak = night()
    soak.mark(500.0, "off not proved", "starts", "power_cycles", by="capture", after_s=10.0)
    soak.spell("probe.outside", HOT, HOT + 3000, "blind")
    judgement = judge([soak])
    assert judgement.because == "incomplete"
    assert "relay" in judgement.reason
