"""Every rule on almost no evidence: no reading, state or mark, or one of each kind it could read.

A demand is made by each rule as the checks make it; the soaks are drawn by Hypothesis.
"""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pytest
from every_demand import FIXTURE, header_of_all
from hypothesis import given, settings
from hypothesis import strategies as st
from made_up_soak import MadeUpSoak

from soak.judge.judging import all_rules, judge_requirement
from soak.language import codes, language
from soak.records import Mark, Requirement, Session, State
from soak.report.contents.wording import as_tested, counts_of
from soak.rules.core.verdict import Finding, Verdict

HEADER = header_of_all()
DEMANDS: Mapping[str, Sequence[Requirement]] = {
    rule: [one for one in HEADER.requirements if one.rule == rule] for rule in sorted(all_rules())
}
TIMES_S = (0.0, 0.05, 0.5, 1.0)
"""Parts of the stretch at which things are drawn."""
VALUES = (0.0, 0.1, 1.0, 4.9, 25.0, 480.0, 5000.0, 3e7)
STATES: Mapping[str, Sequence[str]] = {
    **{f"probe.{name}": ("seen", "blind") for name in FIXTURE["probe"]},
    "capture": ("picture", "black", "no signal", "frozen", "blind", "protected output"),
    "capture.tint": ("clean", "tint"),
    "capture.torn": ("clean", "torn"),
    "capture.sparkle": ("clean", "sparkle"),
    **dict.fromkeys(
        ("switch", "stick", "link", "network", "load", "button", "servo"), ("seen", "gone", "blind")
    ),
}
START: Mapping[str, Any] = {"kind": "warm", "number": 1}
MOVED = {"port": "usb1", "movement": "left", "repeat": 1, "cue": "", "lasts_s": 10.0, "force": ""}
COPY = {"where": "F", "original": False, "came": "changed", "length_bytes": 512}
MARKS: Mapping[str, Mapping[str, Any]] = {
    "power": {"on": True, "channel": "1", "why": ""},
    "power unanswered": {"on": False, "channel": "1", "why": ""},
    "start": {**START, "off_s": 30.0, "dwell": ""},
    "start ended": {**START, "seen": True, "took_s": 20.0},
    "short break": {
        "number": 1,
        "off_s": 0.1,
        "asked_s": 0.1,
        "from_s": 0.0,
        "degree": "needs a hand",
    },
    "working state": {"working_state": "running", "from_s": 0.0},
    "supply trial": {
        **{"end": "lowest", "set_v": 10.85, "read_v": 10.84, "took_s": 20.0, "held_s": 60.0},
        **{"number": 1, "from_s": 0.0, "degree": "no effect"},
    },
    "off proved": {"by": "capture", "after_s": 1.0},
    "off not proved": {"by": "capture", "after_s": 10.0},
    "answer": {"id": "look.closed", "answer": "yes", "by": "AB"},
    "note": {"text": "knocked it", "by": "AB", "was_me": True},
    "trip": {"source": "probe.outside", "value": 71.0, "limit": 70.0},
    "silence": {"source": "probe.outside"},
    "bench fault": {"instrument": "capture", "what": "it left"},
    "capacity": {"claims_bytes": 64e9, "tried_bytes": 0, "holds_bytes": 8e9, "wraps_bytes": 8e9},
    "plugged in": {
        **{"port": "usb1", "plug": "usual", "side": "", "number": 1, "pulled": True, "seen": True},
        **{"held": True, "blind": False, "took_s": 1.0, "speed_mbps": 480.0, "from_s": 0.0},
    },
    "movement begins": MOVED,
    "movement ends": {**MOVED, "whole": True},
    "load": {"on": True},
    "soft stop": {"ended": False, "by": "capture", "after_s": 0.1, "limit_s": 30.0},
    "carried": {
        **{"file": 1, "name": "F1", "length_bytes": 512, "came": "changed"},
        **{"original_whole": True, "copies": [{**COPY, "damaged_bytes": 1, "kinds": {"zeros": 1}}]},
    },
    "fetched": {"came": "hung", "size_bytes": 0, "from_s": 0.0, "why": "no end in time"},
    "host slept": {"for_s": 5.0},
}

THINGS = [
    *(("reading", one.name) for one in HEADER.quantities),
    *(("state", source) for source in STATES),
    *(("mark", what) for what in MARKS),
]


def bare(need: Requirement, lasts_s: float, because: str = "done") -> MadeUpSoak:
    """Return a soak whose stretch began and ended, and of which nothing else is on record."""
    soak = MadeUpSoak(HEADER, ends_s=lasts_s)
    soak.session_list.append(Session(1, "0", "b", "2026-01-05T21:00:00Z", 0.0, 0.0, "first start"))
    soak.pieces[need.stretch] = [(0.0, lasts_s)]
    soak.mark(0.0, "stretch begins", need.stretch)
    soak.mark(lasts_s, "stretch ends", need.stretch, because=because)
    return soak


def promised_s(need: Requirement) -> float:
    """Return how long the stretch of a demand is to last, s."""
    lasts = {one.name: one.lasts_s for one in HEADER.script.stretches}
    return lasts[need.stretch] or 600.0


def run_well(soak: MadeUpSoak) -> None:
    """Let the unit be on and every source see it run, from the beginning on."""
    soak.mark_list.append(Mark(0.0, "power", detail=MARKS["power"]))
    soak.state_list += [State(0.0, source, states[0], 0.02) for source, states in STATES.items()]


@st.composite
def soaks(draw, need: Requirement) -> MadeUpSoak:
    """Draw a soak with at most one reading of each quantity, state of each source, mark of a kind.

    It holds a few of each, or all but a few, at two times, so that things come at one moment; the
    unit may be seen to run well all the time, so that readings count.
    """
    lasts_s = draw(st.sampled_from([promised_s(need), 10.0, 0.0]))
    soak = bare(need, lasts_s, draw(st.sampled_from(["done", "stopped", "rejected by plan"])))
    times = [draw(st.sampled_from(TIMES_S)) * lasts_s for _ in range(2)]
    there = set[tuple[str, str]]()
    for kind in ("reading", "state", "mark"):
        known = [thing for thing in THINGS if thing[0] == kind]
        few = draw(st.sets(st.sampled_from(known), max_size=3))
        there |= few if draw(st.booleans()) else set(known) - few
    if draw(st.booleans()):
        there = {thing for thing in there if thing[0] != "state"}
        run_well(soak)
    bits = draw(st.integers(0, 8 ** len(THINGS) - 1))
    for at, (kind, name) in enumerate(THINGS):
        which = bits >> 3 * at & 7
        if (kind, name) in there:
            _add(soak, need, kind, name, times[which & 1], which)
    return soak


def _add(soak: MadeUpSoak, need: Requirement, kind: str, name: str, t_s: float, which: int) -> None:
    if kind == "reading":
        soak.readings[name] = (np.array([t_s]), np.array([VALUES[which]]))
    elif kind == "state":
        states = STATES[name]
        soak.state_list.append(State(t_s, name, states[which % len(states)], 0.02))
    else:
        check = "supply_margin" if name == "short break" else need.check
        soak.mark_list.append(Mark(t_s, name, need.stretch, check, MARKS[name]))


def told(finding: Finding) -> None:
    """Say all of a finding in every language: what cannot be said raises."""
    for code in codes():
        say = language(code).say
        for words in vars_of(as_tested(finding)):
            say(words)
        for count in counts_of([finding]):
            say(count.large)
            say(count.small)


def vars_of(tested: Any) -> list[Any]:
    """Return what a tested requirement says."""
    said = (tested.text, tested.found, tested.limit, tested.margin, tested.bound, tested.because)
    return [*said, tested.method, *(pointer.what for pointer in tested.pointers)]


def test_every_rule_is_demanded_here():
    """A new rule is tried on little evidence as soon as a check demands by it."""
    assert [rule for rule, needs in DEMANDS.items() if not needs] == []


@pytest.mark.parametrize("rule", DEMANDS)
@pytest.mark.parametrize("lasts_s", [0.0, 10.0, 600.0, None])
def test_nothing_on_record_is_never_met(rule, lasts_s):
    """Of a stretch that ran its length unseen, and of ones too short, nothing is shown."""
    for need in DEMANDS[rule]:
        soak = bare(need, promised_s(need) if lasts_s is None else lasts_s)
        finding = judge_requirement(need, [soak])
        assert finding.verdict in (Verdict.NOT_SHOWN, Verdict.NOT_TESTED), finding.because
        told(finding)


@pytest.mark.parametrize("rule", DEMANDS)
def test_a_unit_seen_to_run_meets_no_demand_on_readings_that_nobody_took(rule):
    """What instruments saw of its state says nothing of what they were to read."""
    read = {one.name for one in HEADER.quantities}
    for need in (one for one in DEMANDS[rule] if one.quantity in read):
        soak = bare(need, promised_s(need))
        run_well(soak)
        finding = judge_requirement(need, [soak])
        assert finding.verdict in (Verdict.NOT_SHOWN, Verdict.NOT_TESTED), finding.because
        told(finding)


@pytest.mark.parametrize("rule", DEMANDS)
def test_one_reading_of_each_of_a_unit_seen_to_run_is_too_few(rule):
    """A probe, a stick or a clip read once in ten minutes was not watched; divides by no nought.

    What a link and a stand-in count they say once and then only when it changes: these may do.
    """
    sampled = ("probe.", "transfer.", "clip.")
    for need in DEMANDS[rule]:
        for value in VALUES:
            soak = bare(need, promised_s(need))
            run_well(soak)
            for one in HEADER.quantities:
                soak.readings[one.name] = (np.array([30.0]), np.array([value]))
            finding = judge_requirement(need, [soak])
            if need.quantity.startswith(sampled):
                assert finding.verdict is not Verdict.MET, finding.because
            told(finding)


@pytest.mark.parametrize("rule", DEMANDS)
@settings(deadline=None, max_examples=30)
@given(data=st.data())
def test_one_of_each_is_judged_and_can_be_said(rule, data):
    """One reading, one state and one mark of each kind, here or there: a finding, no exception."""
    need = data.draw(st.sampled_from(DEMANDS[rule]))
    drawn = [data.draw(soaks(need)) for _ in range(data.draw(st.integers(1, 2)))]
    finding = judge_requirement(need, drawn)
    assert finding.because.endswith(".")
    told(finding)
