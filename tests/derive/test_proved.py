"""How a soak proves its instruments: by what goes and comes with the unit's power."""

import numpy as np
import pytest
from made_up_soak import MadeUpSoak, clean_night, demand

from soak.derive.course import course_of
from soak.derive.seeing.proved import follows_power, proved
from soak.records import Mark, State

WATCHED = demand("no dropout", "capture")


def by_hand(states: list[tuple[float, str]], on_s: float = 60.0) -> MadeUpSoak:
    """Return a soak without a switch: asked at 10 s, answered at `on_s`, over at 400 s."""
    soak = clean_night()
    fixture = {"capture": {"driver": "opencv", "identity": {"nature": "device"}}}
    soak = soak.with_header(fixture=fixture)
    soak.mark_list = [
        Mark(10.0, "question", detail={"id": "power on"}),
        Mark(on_s, "power", detail={"on": True, "channel": ""}),
    ]
    soak.state_list = [State(t_s, "capture", state) for t_s, state in states]
    soak.ends_s = 400.0
    return soak


def test_a_hand_may_switch_on_any_time_between_question_and_answer():
    """The picture comes before the answer, as people confirm after they have looked."""
    soak = by_hand([(0.0, "no signal"), (35.0, "picture")])
    assert str(proved(course_of(soak), "capture")) == "it followed the unit's power 1 time"


@pytest.mark.parametrize(
    "states",
    [
        [(0.0, "picture")],  # it was on before anybody was asked
        [(0.0, "no signal")],
        [(0.0, "blind"), (35.0, "picture")],
        [(0.0, "no signal"), (5.0, "picture")],  # before anybody was asked
    ],
)
def test_what_did_not_come_when_it_was_switched_on_is_not_proved(states):
    """Neither a picture that was there already nor one that nobody saw come."""
    assert not proved(course_of(by_hand(states)), "capture")


@pytest.mark.parametrize(("off", "expected"), [("black", 40), ("stalled", 40), ("blind", 0)])
def test_a_card_that_delivers_nothing_without_a_signal_follows_too(off, expected):
    """Nothing came: that is how it shows a unit that is off. Blind it shows neither."""
    soak = clean_night()
    soak.state_list = [
        State(one.t_s, one.source, off) if one.state == "no signal" else one
        for one in soak.state_list
    ]
    assert follows_power(course_of(soak), "capture") == expected


def with_volts(values: list[float], every_s: float = 5.0) -> MadeUpSoak:
    """Return a night whose probe at the port reads so, from 0 s on: off 30 s, on 60 s, ..."""
    soak = clean_night()
    entry = {"driver": "any", "unit": "V", "at_port": "usb", "identity": {"nature": "device"}}
    fixture = {**soak.header.fixture.as_json(), "probe": {"port": entry}}
    soak = soak.with_header(fixture=fixture)
    soak.readings["probe.port"] = (np.arange(len(values)) * every_s, np.array(values))
    return soak


def test_a_voltage_that_goes_with_the_power_is_proved():
    """Six readings off, twelve on: the first cycles of the night."""
    values = ([0.1] * 6 + [5.0] * 12) * 4
    assert follows_power(course_of(with_volts(values)), "probe.port") == 7  # 4 on, 3 off between


def test_a_voltage_that_stays_is_another_ports():
    """It is there while the unit has no power."""
    assert not proved(course_of(with_volts([5.0] * 72)), "probe.port")
    assert not proved(course_of(with_volts([0.1] * 72)), "probe.port")  # and one of nothing


def test_a_last_off_that_nobody_watched_is_no_miss():
    """The soak ends when something else saw the unit go: a slow probe has no reading after it."""
    values = [0.1] * 6 + [5.0] * 12
    soak = with_volts(values)
    soak.mark_list = [one for one in soak.mark_list if one.t_s < 80.0]
    soak.mark(88.0, "power", on=False, channel="1", why="end")
    soak.ends_s = 88.1
    assert follows_power(course_of(soak), "probe.port") == 1


def test_a_spot_must_warm_soon_or_far():
    """1 K in the first ten minutes of power, or 3 K in one run; a drift of the room is neither."""
    soak = clean_night()
    t_s, _ = soak.readings["probe.outside"]
    for k_per_h, expected in ((0.5, False), (1.0, True), (7.0, True)):
        soak.readings["probe.outside"] = (t_s, 21.0 + k_per_h * t_s / 3600)
        assert bool(proved(course_of(soak), "probe.outside")) is expected


def test_nothing_is_claimed_of_what_is_not_proved_that_way():
    """A load, a presser and a servo are judged by what the others see."""
    soak = clean_night()
    soak = soak.with_header(fixture={**soak.header.fixture.as_json(), "load": {"driver": "any"}})
    assert not proved(course_of(soak.demanding(WATCHED)), "load")
