"""Whose a trip was: the readings after it say so, and none after it say nothing."""

import numpy as np
import pytest
from excursions import cooling
from made_up_soak import HOT_S, STARTS_S, clean_night, demand

from soak.derive.course import Course
from soak.derive.events.trips import Whose, never_off, trips
from soak.judge.grade import judge
from soak.records import Seal, Session, State

EVERY_S, TRIP_S = 5.0, STARTS_S + 3600.0
PROBE = frozenset({"probe"})
NO_TRIP = demand("no trip", "probe.outside", needs=PROBE, check="spots")
AT_MOST = demand("at most", "probe.outside", 60.0, unit="degC", needs=PROBE, check="spots")


def tripped(*after, before=35.0, value=85.0):
    """Return a night cut short by a trip at 70 degC, with what was read after it."""
    soak = clean_night().demanding(NO_TRIP, AT_MOST)
    t_s = np.arange(STARTS_S, TRIP_S + EVERY_S * (len(after) + 0.5), EVERY_S)
    degc = np.full(len(t_s), before)
    at = int(np.searchsorted(t_s, TRIP_S))
    degc[at:] = [value, *after]
    soak.readings["probe.outside"] = (t_s, degc)
    soak.mark(TRIP_S, "trip", source="probe.outside", value=value, limit=70.0)
    soak.mark(TRIP_S + 0.1, "power", on=False, channel="1", why="trip")
    soak.mark(TRIP_S + 0.2, "stretch ends", "hot run", because="stopped")
    soak.pieces["hot run"] = [(STARTS_S, TRIP_S + 0.2)]
    soak.ends_s = TRIP_S + 20.0
    soak.seal = Seal(soak.ends_s, "stopped")
    return soak


def whose(soak):
    (trip,) = trips(Course(soak))
    return trip.whose


def test_a_return_at_once_to_what_it_was_before_is_a_garbled_reading():
    """85 between 35 and 35: no body does that, and nothing of it is charged."""
    soak = tripped(35.0, 35.0)
    assert whose(soak) is Whose.BENCH
    found = judge([soak])
    assert found.because == "incomplete"
    assert "one garbled reading" in found.reason


@pytest.mark.parametrize("tau_s", [3.0, 20.0, 120.0, 600.0])
def test_a_second_reading_on_the_way_down_makes_it_the_units(tau_s):
    """Whatever the body: it cools from where it was, by Newton's law."""
    soak = tripped(*cooling(85.0, 22.0, tau_s, EVERY_S, 3)[1:])
    assert whose(soak) is Whose.UNIT
    assert judge([soak]).because == "failed"


def test_no_reading_after_it_shows_nothing():
    """A cable that tears says one last wrong word: nobody can tell."""
    soak = tripped()
    assert whose(soak) is Whose.UNKNOWN
    found = judge([soak])
    assert found.because == "incomplete"
    assert "cannot be told" in found.reason


def test_a_spot_that_crept_to_its_trip_needs_no_reading_after_it():
    """69.9 came before 70.0: that is a second reading already."""
    assert whose(tripped(before=69.9, value=70.0)) is Whose.UNIT


def test_a_value_that_no_spot_has_is_the_benchs():
    """A torn thermocouple reads anything; the guard cut by right, the unit did nothing."""
    soak = tripped(1372.0, 1372.0, value=1372.0)
    assert whose(soak) is Whose.BENCH
    assert judge([soak]).because == "incomplete"


def test_a_trip_while_the_unit_rests_after_a_resume_has_its_reason_in_the_grade():
    """Off first, then the probe passes its trip before the stretch goes on."""
    soak = tripped(84.0, 83.0)
    cut_s = TRIP_S - 100.0
    soak.pieces["hot run"] = [(STARTS_S, cut_s)]
    soak.mark_list = [one for one in soak.mark_list if one.what != "stretch ends"]
    soak.session_list.append(
        Session(2, "0", "b", "2026-01-06T01:00:00Z", TRIP_S - 10.0, 90.0, "boot clock")
    )
    soak.state_list.append(State(TRIP_S - 9.0, "probe.outside", "seen"))
    found = judge([soak])
    assert found.because == "failed"
    assert "1 trip of the guard" in found.reason


def test_an_off_that_was_confirmed_at_once_needs_no_word():
    """Only a switch that did not answer is told of."""
    soak = tripped(84.0)
    assert not never_off(Course(soak))
    soak.mark_list = [m for m in soak.mark_list if m.what != "power" or m.t_s < TRIP_S]
    assert "never confirmed it" in never_off(Course(soak))


def test_a_garbled_night_still_lasts_as_long():
    """What is set aside costs no observed time."""
    soak = clean_night().demanding(AT_MOST)
    degc = soak.readings["probe.outside"][1]
    degc[len(degc) // 2] = 850.0
    found = judge([soak]).findings[0]
    assert found.verdict.value == "met"
    assert found.covered[0].observed_s == pytest.approx(HOT_S, abs=1.0)
