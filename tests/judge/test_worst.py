"""The reason of a failed grade tells the worst kind of failure, summed over its parts."""

from dataclasses import replace

import pytest
from made_up_soak import (
    CYCLE_S,
    OFF_S,
    STARTS_S,
    TOOK_S,
    MadeUpSoak,
    clean_night,
    demand,
    fail_start,
)

from soak.judge.grade import judge
from soak.judge.judging import all_rules
from soak.judge.worst import in_short, kinds_of, rank
from soak.records import Requirement
from soak.report.contents.wording import counts_of
from soak.rules.core.rule import HARM_OF_SECTION, Harm, Section, Weight
from soak.rules.core.verdict import Verdict

CAPTURE = frozenset({"capture"})
LOST = {"bad": ("black", "no signal"), "at_least_s": 0.2}
HOT = STARTS_S + 3600.0


def in_stretch(need: Requirement, stretch: str) -> Requirement:
    """Return the same demand of another part of the script."""
    return replace(need, stretch=stretch, id=f"{stretch} {need.id}")


LONG = demand("no dropout", "capture", needs=CAPTURE, params=LOST, confidence=0.95)
SHORT = demand(
    "dropouts per hour", "capture", 1.0, unit="1/h", needs=CAPTURE, params=LOST, confidence=0.95
)
TAIL = demand("failure free", "", 7200.0, needs=CAPTURE, params={"bad": LOST["bad"]})
HEAT = demand("at most", "probe.outside", 45.0, unit="degC", check="spots")
STARTS = demand("starts", needs=CAPTURE, params={"promised": 20, "start_limit_s": 50.0})
BOTH = [in_stretch(one, stretch) for stretch in ("starts", "hot run") for one in (LONG, SHORT)]


def lose(soak: MadeUpSoak, number: int, lasts_s: float, first_s: float = HOT) -> MadeUpSoak:
    """Let the picture go so often, a minute apart."""
    for at in range(number):
        soak.spell("capture", first_s + 60 * at, first_s + 60 * at + lasts_s, "no signal")
    return soak


def during_a_start(number: int) -> float:
    """Return a time in s at which a unit that was started anew shows its picture."""
    return number * CYCLE_S + OFF_S + TOOK_S + 15.0


def reason(soak: MadeUpSoak, *needs: Requirement) -> str:
    return str(judge([soak.demanding(*needs)]).reason)


def test_breaks_are_summed_over_all_parts_that_failed():
    """38 in the hot run and one among the starts are 39, not the one that came first."""
    soak = lose(lose(clean_night(), 38, 1.0), 1, 1.0, during_a_start(3))
    told = reason(soak, *BOTH)
    assert "39 breaks in the picture in 4 h 13 min" in told  # 20 times 40 s of starts, and 4 h
    assert "1 dropout" not in told


def test_one_part_alone_tells_what_it_found():
    """Nothing is to be summed: its own sentence stands."""
    assert "38 dropouts in 4 h with power on" in reason(lose(clean_night(), 38, 1.0), *BOTH)


def test_the_worst_kind_is_named_first_whatever_the_order_of_the_script():
    """Too hot before lost pictures, lost pictures before starts; what follows comes last."""
    soak = lose(clean_night(), 5, 1.0, STARTS_S + 10000.0)
    fail_start(soak, 7)
    needs = [TAIL, STARTS, *BOTH, HEAT]
    failed = [
        one for one in judge([soak.demanding(*needs)]).findings if one.verdict is Verdict.NOT_MET
    ]
    assert [parts[0].requirement.rule for parts in kinds_of(failed)] == [
        "at most",
        "no dropout",
        "starts",
        "failure free",
    ]
    assert "The highest reading was" in reason(soak, *needs)
    assert "5 dropouts" in reason(soak, TAIL, STARTS, *BOTH)
    assert "19 of 20 starts worked" in reason(soak, TAIL, STARTS)


def test_of_several_readings_the_one_furthest_beyond_speaks():
    """Temperatures do not add up: the worst part is told."""
    cold = replace(in_stretch(HEAT, "starts"), limit=39.0)
    hot = replace(cold, id="hot", stretch="hot run")
    told = reason(clean_night(), cold, hot)
    assert "The highest reading was 50.0 °C" in told  # 40 °C among the starts


def test_what_failed_is_said_in_a_few_words():
    """For the picture of a listing: the count, or the demand and what was found."""
    soak = lose(clean_night(), 5, 1.0)
    fail_start(soak, 7)
    findings = judge([soak.demanding(STARTS, *BOTH, HEAT)]).findings
    failed = [one for one in findings if one.verdict is Verdict.NOT_MET]
    assert [str(in_short(parts)) for parts in kinds_of(failed)] == [
        "Probe.outside stays at or below 45 °C: not met (50.0 °C)",
        "5 breaks in the picture in 4 h",
        "1 of 20 starts failed",
    ]


@pytest.mark.parametrize(
    ("long", "short", "large"),
    [
        (0, 0, "0 breaks in the picture in 4 h 13 min"),
        (0, 1, "1 break in the picture in 4 h 13 min, shorter than 0.20 s"),
        (0, 5, "5 breaks in the picture in 4 h 13 min, each shorter than 0.20 s"),
        (3, 0, "3 breaks in the picture in 4 h 13 min"),
        (3, 1, "4 breaks in the picture in 4 h 13 min, 1 of them shorter than 0.20 s"),
        (3, 2, "5 breaks in the picture in 4 h 13 min, 2 of them shorter than 0.20 s"),
    ],
)
def test_no_nought_stands_beside_shorter_breaks(long, short, large):
    """What is counted on a page is what is on record, whatever a demand calls long enough."""
    soak = lose(lose(clean_night(), long, 1.0), short, 0.1, HOT + 7200)
    (count,) = counts_of(judge([soak.demanding(*BOTH)]).findings)
    assert count.large == large


def test_shorter_breaks_are_told_where_only_long_ones_are_demanded():
    """A part that demands nothing of shorter ones does not hide them."""
    findings = judge([lose(clean_night(), 5, 0.1).demanding(LONG)]).findings
    (count,) = counts_of(findings)
    assert count.large == "5 breaks in the picture in 4 h, each shorter than 0.20 s"
    assert "No dropout in 4 h with power on. 5 shorter ones are on record." in findings[0].because


def test_every_section_and_rule_has_its_place_in_the_order():
    """None falls behind all others for want of one; what the guard cut comes first."""
    assert set(HARM_OF_SECTION) == set(Section)
    first = [rule.name for rule in all_rules().values() if rule.harm is Harm.SAFETY]
    assert set(first) == {"no trip", "answered"}
    [tail] = judge([lose(clean_night(), 1, 1.0, HOT + 10000).demanding(TAIL)]).findings
    assert rank(tail)[0]
    assert all_rules()["failure free"].weight is Weight.FOLLOWS
