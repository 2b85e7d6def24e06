"""Single garbled readings are told from what a body does; Newton's law of cooling is the measure.

`benchmarks/garbled.py` measures 2 000 of each kind; here is its short form.
"""

import numpy as np
import pytest
from excursions import EXCURSIONS, PERIODS_S, cooling, garbled_night, real_excursion

from soak.derive.events.garbled import REACH_S, alone


@pytest.mark.parametrize("kind", EXCURSIONS)
@pytest.mark.parametrize("every_s", PERIODS_S)
def test_no_reading_of_a_real_excursion_is_set_aside(kind, every_s):
    """Whatever lasts two readings or more stays, also what no body we know would do."""
    for seed in range(25):
        t_s, degc, excursion = real_excursion(kind, every_s, seed)
        assert excursion.sum() >= 2
        assert not (alone(t_s, degc) & excursion).any(), (kind, every_s, seed)


@pytest.mark.parametrize("every_s", PERIODS_S)
def test_one_garbled_reading_in_a_night_is_found_and_no_other(every_s):
    """A power-on value, a lost digit, a digit too many, a flipped one: only that reading."""
    for seed in range(25):
        t_s, degc, at = garbled_night(every_s, seed)
        assert np.flatnonzero(alone(t_s, degc)).tolist() == [at], (every_s, seed)


def level(*values):
    degc = np.array([50.0] * 20 + list(values) + [50.0] * 20)
    return 5.0 * np.arange(len(degc)), degc


def test_two_equal_garbled_readings_count():
    """Two readings that agree are what a body may have had: nothing is set aside."""
    assert not alone(*level(85.0, 85.0)).any()


def test_what_alternates_is_not_a_single_reading():
    """Three odd readings in five are no single one, whatever they are."""
    assert not alone(*level(85.0, 50.0, 85.0, 50.0, 85.0)).any()


def test_a_small_body_that_is_cut_at_its_peak_is_believed():
    """From 80 to 95, cut, and past 80 on its way down: the reading at 95 was true."""
    cooled = cooling(95.0, 22.0, 22.0, 5.0, 30)
    degc = np.concatenate((np.full(30, 80.0), cooled))
    assert not alone(5.0 * np.arange(len(degc)), degc).any()


def test_a_first_reading_no_body_could_leave_so_fast_stands_alone():
    """A sensor's power-on value, then the room: 61 K within 5 s."""
    degc = np.array([85.0] + [23.5] * 30)
    assert np.flatnonzero(alone(5.0 * np.arange(len(degc)), degc)).tolist() == [0]


def test_the_last_reading_is_never_set_aside():
    """Nothing came after it that could speak against it."""
    degc = np.array([23.5] * 30 + [85.0])
    assert not alone(5.0 * np.arange(len(degc)), degc).any()


def test_readings_further_apart_than_a_body_remembers_are_believed():
    """A body may warm and cool between two readings that lie minutes apart."""
    degc = np.array([23.5] * 10 + [85.0] + [23.5] * 10)
    t_s = (REACH_S + 1.0) * np.arange(len(degc))
    assert not alone(t_s, degc).any()
