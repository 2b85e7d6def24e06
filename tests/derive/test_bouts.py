"""Faults placed in the time watched, and the bouts of a plan."""

import pytest

from soak.derive.events.bouts import Seen, placed


def test_faults_are_placed_without_blindness_and_without_what_was_lost():
    """By hand: 0 to 10 and 20 to 40 watched, 5 to 7 and 30 to 31 lost; then a second soak."""
    first = ([(0.0, 10.0), (20.0, 40.0)], [(5.0, 7.0), (30.0, 31.0)])
    second = ([(0.0, 50.0)], [(4.0, 4.0)])
    found = placed([first, second])
    assert list(found.times_s) == pytest.approx([5, 18, 27 + 4])
    assert found.watched_s == pytest.approx(27 + 50)


def test_the_bouts_of_a_plan_begin_in_live_time():
    """A gap of 10: the second fault belongs to the first, and 10 after each are dead."""
    found = Seen([100.0, 104, 150], 200.0).parted_by(10.0)
    assert list(found.times_s) == pytest.approx([100, 136])
    assert found.watched_s == pytest.approx(100 + 36 + 40)


def test_without_a_gap_each_fault_is_a_bout_in_all_of_the_time():
    """As older plans count."""
    found = Seen([100.0, 104, 150], 200.0).parted_by(0.0)
    assert list(found.times_s) == [100, 104, 150]
    assert found.watched_s == 200
