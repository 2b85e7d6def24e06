"""Ticks are round, few and readable."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soak.charts.axes import clock_text, time_ticks, value_ticks
from soak.language import language


@pytest.mark.parametrize(
    ("t_s", "minutes", "seconds"),
    [(0, "0:00", "0:00:00"), (3661, "1:01", "1:01:01"), (86399, "24:00", "23:59:59")],
)
def test_times_read_as_hours_and_minutes(t_s, minutes, seconds):
    """A time is hours:minutes (rounded), with seconds where asked."""
    assert clock_text(t_s) == minutes
    assert clock_text(t_s, seconds=True) == seconds


def test_a_night_is_ticked_in_whole_hours():
    """Eight hours on a wide chart get one tick an hour."""
    ticks, unit = time_ticks(0, 8 * 3600, 8)
    assert [tick.words for tick in ticks] == [f"{hour}:00" for hour in range(9)]
    assert unit == "h:min"


def test_a_quick_soak_is_ticked_in_minutes_and_seconds():
    """Under ten minutes the labels are min:s and say so."""
    ticks, unit = time_ticks(0, 90, 4)
    assert [tick.words for tick in ticks] == ["0:00", "0:30", "1:00", "1:30"]
    assert unit == "min:s"


@given(st.floats(1, 2e6), st.integers(3, 10))
def test_time_ticks_never_crowd(span_s, most):
    """However long the soak, there are at most as many steps as asked for."""
    ticks, _ = time_ticks(0, span_s, most)
    assert len(ticks) <= most + 1
    assert all(0 <= tick.at <= span_s * (1 + 1e-6) for tick in ticks)


@given(st.floats(-1e5, 1e5), st.floats(1e-3, 1e5))
def test_value_ticks_cover_the_range(low, span):
    """The ticks reach from below the lowest to above the highest value."""
    ticks = value_ticks(low, low + span, language("en").say)
    slack = 1e-6 * (abs(low) + span)
    assert ticks[0].at <= low + slack
    assert ticks[-1].at >= low + span - slack
    assert len(ticks) <= 9


def test_a_range_of_one_value_still_has_an_axis():
    """A constant series gets ticks on both sides."""
    ticks = value_ticks(5.0, 5.0, language("en").say)
    assert ticks[0].at < 5.0 < ticks[-1].at
