"""What an instrument is, and whether it was proved on this unit, decides what it may show."""

from typing import Any

import numpy as np
import pytest
from made_up_soak import STARTS_S, MadeUpSoak, clean_night, demand

from soak.derive.course import course_of
from soak.derive.seeing.proved import proved
from soak.judge.believed import doubted, how_proved
from soak.judge.grade import judge
from soak.natures import Nature, what_it_is_known_by
from soak.records import State

HOT = STARTS_S + 3600.0
CAPTURE, PROBE, STICK = (frozenset({role}) for role in ("capture", "probe", "stick"))
DROPOUT = demand("no dropout", "capture", needs=CAPTURE)
STARTS = demand("starts", needs=frozenset({"switch", "capture"}), params={"promised": 20})
HEAT = demand("at most", "probe.outside", 60.0, unit="degC", check="spots", needs=PROBE)
DATA = demand("no wrong data", "transfer.stick.damaged", check="transfer", needs=STICK)
LOOKED_AT = {"nature": Nature.DEVICE}


def of_devices(soak: MadeUpSoak, **others: Nature) -> MadeUpSoak:
    """Let every instrument be a device, but for those named: `capture=...`, `outside=...`."""

    def entry(name: str, told: Any) -> Any:
        nature = others.get(name, Nature.DEVICE)
        return {**told, "driver": "any", "identity": {"nature": nature, "card": "1234:5678/9"}}

    fixture = soak.header.fixture.as_json()
    for name in ("switch", "capture", "stick"):
        fixture[name] = entry(name, fixture[name])
    fixture["probe"] = {name: entry(name, told) for name, told in fixture["probe"].items()}
    return soak.with_header(fixture=fixture, simulated=False)


def night(*needs: Any, **others: Nature) -> MadeUpSoak:
    """Return a clean night on devices."""
    return of_devices(clean_night(), **others).demanding(*needs)


def blind_to_the_power(soak: MadeUpSoak) -> MadeUpSoak:
    """Let the capture show a picture whatever the power does, as of another unit."""
    soak.state_list = [one for one in soak.state_list if one.source != "capture"]
    soak.state_list.append(State(0.0, "capture", "picture"))
    soak.mark_list = [one for one in soak.mark_list if one.what != "off proved"]
    return soak


def only(soak: MadeUpSoak) -> tuple[str, str]:
    """Return verdict and reason of the one finding."""
    [finding] = judge([soak]).findings
    return finding.verdict.value, str(finding.why)


@pytest.mark.parametrize("need", [DROPOUT, STARTS, HEAT, DATA], ids=lambda need: need.rule)
def test_devices_that_follow_the_unit_show_what_they_showed(need):
    """The usual night proves all of them by itself: nothing more is asked of a good bench."""
    assert only(night(need)) == ("met", "")


@pytest.mark.parametrize(
    ("need", "pretended", "why"),
    [
        (DROPOUT, {"capture": Nature.RECORDING}, "the capture is a recording"),
        (
            DROPOUT,
            {"capture": Nature.PROGRAM},
            "the capture is a program on the bench's own computer",
        ),
        (DATA, {"stick": Nature.FOLDER}, "the stick is a folder of the bench's own computer"),
        (HEAT, {"outside": Nature.FILE}, "the probe outside is an ordinary file"),
        (HEAT, {"switch": Nature.TERMINAL}, "the switch is a pseudo-terminal"),
    ],
)
def test_what_is_no_instrument_shows_nothing(need, pretended, why):
    """Not even where another instrument saw it: the switch says whether the unit had power."""
    assert only(night(need, **pretended)) == ("not shown", why)


def test_what_is_no_instrument_speaks_not_against_the_unit_either():
    """A film that goes black is no fault of any unit."""
    soak = night(DROPOUT, capture=Nature.RECORDING)
    soak.spell("capture", HOT, HOT + 3, "no signal")
    assert only(soak) == ("not shown", "the capture is a recording")


def test_what_does_not_matter_to_a_demand_does_not_spoil_it():
    """A probe that is a text file costs the temperature, and the picture nothing."""
    assert only(night(DROPOUT, outside=Nature.FILE))[0] == "met"


def test_a_device_that_does_not_follow_the_unit_is_not_believed():
    """A card on the neighbour's unit sees a fine picture all night."""
    soak = blind_to_the_power(night(DROPOUT))
    assert only(soak) == ("not shown", "the capture was never proved on this unit")
    assert judge([soak]).because == "incomplete"


def test_a_fault_counts_whoever_saw_it():
    """Who proves nothing must not wash a fault off by it."""
    soak = blind_to_the_power(night(DROPOUT))
    soak.spell("capture", HOT, HOT + 3, "no signal")
    assert only(soak)[0] == "not met"


def test_a_probe_beside_its_spot_is_not_believed():
    """One that reads the room all night while the unit is on is at no spot of it."""
    soak = night(HEAT)
    t_s, _ = soak.readings["probe.outside"]
    soak.readings["probe.outside"] = (t_s, np.full_like(t_s, 22.0))
    assert only(soak) == ("not shown", "the probe outside was never proved on this unit")


def test_what_soak_prove_saw_of_this_very_instrument_counts():
    """By identity: another card in its place was never proved."""
    soak = blind_to_the_power(night(DROPOUT))
    known_by = what_it_is_known_by(soak.header.fixture, "capture")
    told = {"on": "2026-01-02", "by": {"capture": "video plug pulled"}, "is": {"capture": known_by}}
    assert only(soak.with_header(references={"proved": told}))[0] == "met"
    other = {**told, "is": {"capture": {**known_by, "card": "1234:5678/10"}}}
    assert only(soak.with_header(references={"proved": other}))[0] == "not shown"


def test_a_soak_on_something_else_does_not_spoil_one_on_instruments():
    """Of two soaks of a job the one that was watched by a device speaks."""
    first = night(DROPOUT)
    second = of_devices(clean_night("S2", "2026-01-06T21:00:00Z"), capture=Nature.RECORDING)
    [finding] = judge([first, second.demanding(DROPOUT)]).findings
    assert finding.verdict.value == "met"
    assert {one.soak_id for one in finding.pointers} <= {"S1"}


def test_old_journals_are_judged_as_before():
    """What they were measured with was not recorded, and is not held against them."""
    soak = blind_to_the_power(clean_night().demanding(DROPOUT))
    assert only(soak)[0] == "met"
    assert doubted([course_of(soak)]) == []


def test_a_hand_is_its_own_witness():
    """What a person read is reported as by hand; nothing has to prove the person."""
    soak = night(HEAT, outside=Nature.HAND)
    t_s, _ = soak.readings["probe.outside"]
    soak.readings["probe.outside"] = (t_s, np.full_like(t_s, 22.0))
    assert only(soak)[0] == "met"


def test_a_page_names_each_instrument_that_proves_nothing_once():
    """Whatever the number of soaks; one that a later soak proved is not doubted any more."""
    courses = [
        course_of(blind_to_the_power(night(DROPOUT, stick=Nature.FOLDER))),
        course_of(night(DROPOUT, stick=Nature.FOLDER)),
    ]
    assert [str(one) for one in doubted(courses[:1])] == [
        "the capture was never proved on this unit",
        "the stick is a folder of the bench's own computer",
    ]
    [left] = doubted(courses)
    assert left == "the stick is a folder of the bench's own computer"


@pytest.mark.parametrize(
    ("source", "how"),
    [
        ("switch", "the unit followed it, seen by capture and outside"),
        ("capture", "it followed the unit's power 40 times"),  # 20 starts, 19 offs, the last off
        ("stick", "what was written to it came back"),
        ("probe.outside", "it warmed by 5.9 K with the unit on"),  # 10 (1 - exp(-530/600)) K
        ("probe.ambient", "it read 21.0 °C, as a room has"),
    ],
)
def test_a_night_says_how_it_proved_an_instrument(source, how):
    """What only this unit can have made it see."""
    assert str(proved(course_of(night(DROPOUT)), source)) == how


def test_the_day_stands_beside_how():
    """The day of the soak."""
    told = how_proved("capture", course_of(night(DROPOUT)))
    assert str(told) == "proved on 2026-01-05: it followed the unit's power 40 times"


def test_a_recording_that_happens_to_follow_proves_no_switch():
    """And a pseudo-terminal in place of the switch proves no capture."""
    film = course_of(night(DROPOUT, capture=Nature.RECORDING, outside=Nature.FILE))
    assert not proved(film, "capture")
    assert not proved(film, "switch")
    assert not proved(course_of(night(DROPOUT, switch=Nature.TERMINAL)), "capture")


def test_one_chance_among_many_misses_is_no_proof():
    """A neighbour's unit that happens to go off once while this one does is still a neighbour's."""
    soak = blind_to_the_power(night(DROPOUT))
    soak.spell("capture", STARTS_S - 90.0 + 1, STARTS_S - 70.0, "no signal")
    assert not proved(course_of(soak), "capture")
