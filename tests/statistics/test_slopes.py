"""Median slopes: the same numbers as the statistics library gives, ties and all."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import theilslopes

from soak.statistics.trend import median_slope

rows = st.lists(st.integers(-20, 20).map(float), min_size=3, max_size=40)


@settings(max_examples=200)
@given(rows, st.sampled_from([0.5001, 0.8, 0.95, 0.99]))
def test_slopes_are_those_of_the_statistics_library(values, confidence):
    """scipy.stats.theilslopes gives the same slope, intercept and bounds on any row with ties."""
    when = np.arange(len(values), dtype=float)
    wanted = theilslopes(np.array(values), when, confidence)
    assert tuple(median_slope(when, np.array(values), confidence)) == pytest.approx(tuple(wanted))


def test_times_that_repeat_are_left_out_of_the_pairs():
    """Two readings of one time make no slope; the library agrees."""
    when, values = np.array([0.0, 0.0, 1.0, 2.0]), np.array([1.0, 9.0, 2.0, 3.0])
    wanted = theilslopes(values, when, 0.95)
    assert tuple(median_slope(when, values, 0.95)) == pytest.approx(tuple(wanted))
