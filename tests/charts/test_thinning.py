"""Thinning loses no extreme, and a gap stays a gap."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from soak.charts.thinning import pieces, thin, usual_gap_s

values = arrays(np.float64, st.integers(1, 400), elements=st.floats(-1e6, 1e6))


@given(values, st.integers(1, 40), st.floats(0.01, 1e4))
def test_thinning_keeps_lowest_highest_first_and_last(value, columns, step_s):
    """Whatever the values, their extremes and ends are among the points drawn."""
    t_s = np.arange(len(value)) * step_s
    kept = thin(t_s, value, columns, 0.0, float(t_s[-1]))
    assert value[kept].min() == value.min()
    assert value[kept].max() == value.max()
    assert kept[0] == 0
    assert kept[-1] == len(value) - 1


@given(values, st.integers(1, 40))
def test_thinning_keeps_the_extremes_of_every_column(value, columns):
    """Within each column of pixels too, lowest and highest survive, in order of time."""
    t_s = np.arange(len(value), dtype=float)
    to_s = float(t_s[-1]) or 1.0
    kept = thin(t_s, value, columns, 0.0, to_s)
    assert (np.diff(kept) > 0).all()
    assert len(kept) <= max(len(value) if len(value) <= 4 * columns else 0, 4 * (columns + 1))
    column = np.floor(t_s * (columns / to_s))
    for one in np.unique(column):
        here, drawn = value[column == one], value[kept][column[kept] == one]
        assert (here.min(), here.max()) == (drawn.min(), drawn.max())


def test_five_million_points_become_few_and_keep_a_lone_spike():
    """One odd reading in five million is still drawn, by fewer than 4 points a column."""
    value = np.sin(np.arange(5_000_000) / 1e5)
    value[3_141_592] = 99.0
    t_s = np.arange(5_000_000, dtype=float)
    kept = thin(t_s, value, 700, 0.0, 5e6)
    assert 3_141_592 in kept
    assert len(kept) <= 4 * 701


@given(st.lists(st.floats(0.1, 50.0), min_size=1, max_size=60), st.floats(0.5, 40.0))
def test_pieces_part_exactly_where_steps_exceed_the_gap(steps, gap_s):
    """No piece holds a step longer than the gap, and no shorter step was cut."""
    t_s = np.concatenate(([0.0], np.cumsum(steps)))
    found = list(pieces(t_s, gap_s))
    assert [begin for begin, _ in found[1:]] == [end for _, end in found[:-1]]
    assert (found[0][0], found[-1][1]) == (0, len(t_s))
    assert all((np.diff(t_s[begin:end]) <= gap_s).all() for begin, end in found)
    assert all(t_s[end] - t_s[end - 1] > gap_s for _, end in found[:-1])


def test_a_hole_parts_a_line_even_where_readings_are_dense():
    """A hole between two points cuts between just these two, also where it ends on one."""
    t_s = np.arange(10.0)
    assert list(pieces(t_s, 100.0, [(3.2, 3.9)])) == [(0, 4), (4, 10)]
    assert list(pieces(t_s, 100.0, [(3.0, 4.0)])) == [(0, 4), (4, 10)]
    assert list(pieces(np.empty(0), 1.0)) == []


def test_a_hole_before_or_after_all_readings_cuts_nothing():
    """Blindness before the first and after the last reading leaves the line whole."""
    t_s = np.arange(5.0, 10.0)
    assert list(pieces(t_s, 100.0, [(0.0, 4.0), (20.0, 30.0)])) == [(0, 5)]


def test_the_usual_gap_follows_the_readings_and_has_a_floor():
    """Five usual steps, but never less than what a column of pixels shows."""
    assert usual_gap_s(np.arange(0.0, 100.0, 10.0), 1.0) == 50.0
    assert usual_gap_s(np.arange(0.0, 100.0, 10.0), 80.0) == 80.0
    assert usual_gap_s(np.array([1.0]), 7.0) == 7.0
