"""What is said of the supply: counts as people count, every sentence also in German."""

from dataclasses import dataclass

import pytest
from made_up_soak import clean_night, demand
from said import catalogue, messages, phrases
from short_soak import soak

from soak.judge.judging import judge_requirement
from soak.language import language
from soak.report.contents.wording import as_tested
from soak.rules.core.verdict import Finding
from soak.words import Message

SUPPLY = """\
[switch]
driver = "simulated"
sets_voltage = true
accuracy_v = 0.05
[capture]
driver = "simulated"
port = "video"
[button]
driver = "simulated"
[probe.supply]
driver = "simulated"
unit = "A"
accuracy = 0.02
every_s = 1.0
"""
MARGIN = {"starts": 2, "hold_s": 30, "off_s": 10, "give_up_s": 60, "times": 2}
DRAW = {"running_s": 60, "standby_s": 30, "settles_s": 10}


@dataclass(frozen=True)
class Case:
    """A soak to be told: the check, its settings, and what is wrong with the unit."""

    check: str
    settings: dict
    scene: dict


CASES = {
    "good at its limits": Case("supply_margin", MARGIN, {}),
    "fails at low supply": Case("supply_margin", MARGIN, {"supply": {"starts_from_v": 11.4}}),
    "dies in short breaks": Case("supply_margin", MARGIN, {"supply": {"latches_s": [0.06, 0.2]}}),
    "never starts": Case("supply_margin", MARGIN, {"start": {"fails_warm": 1, "fails_cold": 1}}),
    "draws what it may": Case("current_draw", DRAW, {}),
    "draws too much": Case("current_draw", DRAW, {"supply": {"used_a": 1.5}}),
}


def told_of(finding: Finding) -> list[Message]:
    """Return all that a report says of a finding."""
    return list(messages(as_tested(finding)))


def without_words(told: list[Message], code: str) -> set[str]:
    """Return the phrases that a language has no words for."""
    known = catalogue(code)
    return {one.one for message in told for one in phrases(message) if one.one not in known}


@pytest.mark.parametrize("name", CASES)
def test_every_sentence_is_said_in_german(tmp_path, name):
    """Whatever comes of the trials, a buyer's page holds no English of ours."""
    case = CASES[name]
    found = soak(tmp_path, SUPPLY, {case.check: case.settings}, case.scene, button={"stops": True})
    told = [message for finding in found.findings.values() for message in told_of(finding)]
    assert len({str(message) for message in told}) > 5
    assert without_words(told, "de") == set()


def test_starts_and_breaks_are_counted_like_starts(tmp_path):
    """A buyer reads how many of how many worked, not how many failed."""
    found = soak(tmp_path, SUPPLY, {"supply_margin": MARGIN}, CASES["fails at low supply"].scene)
    told = {name: as_tested(finding) for name, finding in found.findings.items()}
    assert told["it/supply_margin/lowest"].found == "0 of 2 worked"
    assert told["it/supply_margin/highest"].found == "2 of 2 worked"
    assert told["it/supply_margin/short breaks"].found == "6 of 6 worked"
    assert told["it/supply_margin/short breaks"].limit == "none may fail"


def test_what_was_not_tried_is_said_in_german_too():
    """Too few trials: not shown, in words."""
    params = {"promised": 6}
    need = demand("short breaks", stretch="starts", check="supply_margin", params=params)
    night = clean_night()
    told = {"number": 1, "off_s": 0.1, "asked_s": 0.1, "degree": "no effect"}
    night.mark(100.0, "short break", "starts", "supply_margin", **told)
    finding = judge_requirement(need, [night.demanding(need)])
    assert without_words([finding.because], "de") == set()
    assert language("de").say(finding.because).startswith("Nicht gezeigt: ")
