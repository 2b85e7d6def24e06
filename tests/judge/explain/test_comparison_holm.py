"""Many lines side by side: a false alarm among them all is as rare as it says, by Holm's way."""

import numpy as np
import pytest
from statsmodels.stats.multitest import multipletests

from soak.judge.explain.comparison import Line, corrected
from soak.words import msg


def lines_of(chances):
    """Return a line for each chance, and one that has none."""
    tested = [Line(msg("dropout"), msg("none"), msg("none"), chance=float(p)) for p in chances]
    return [Line(msg("length"), msg("none"), msg("none")), *tested]


@pytest.mark.parametrize("seed", range(5))
def test_the_corrected_chances_are_those_of_another_library(seed):
    """The library statsmodels, multipletests with method holm, gives the same."""
    chances = np.random.default_rng(seed).beta(0.3, 1.0, 7)
    expected = multipletests(chances, 0.05, method="holm")
    found = corrected(lines_of(chances))[1:]
    assert [line.chance for line in found] == pytest.approx(expected[1])
    assert [line.differs for line in found] == list(expected[0])


def test_identical_units_are_called_different_in_one_comparison_of_twenty():
    """4000 comparisons of eight lines each, nothing between the units: at most 5 % (+ 3 errors)."""
    chances = np.random.default_rng(3).uniform(size=(4000, 8))
    alarms = [any(line.differs for line in corrected(lines_of(row))) for row in chances]
    assert np.mean(alarms) <= 0.05 + 3 * np.sqrt(0.05 * 0.95 / 4000)
    alone = np.mean((chances < 0.05).any(axis=1))
    assert alone > 0.3  # what eight lines at 5 % each come to: 1 - 0.95^8 = 0.34


def test_a_line_says_by_what_it_was_corrected():
    """Procedure and number of lines stand beside the chance; one line alone needs neither."""
    two = corrected(lines_of([0.03, 0.04]))[1]
    assert str(two.method).endswith("p = 0.060 over 2 lines, Holm 1979")
    assert two.differs is False
    one = corrected(lines_of([0.03]))[1]
    assert one.differs is True
    assert str(one.method) == ""


def test_a_line_without_a_test_stays_as_it_is():
    """Two single values have no chance, and no correction."""
    assert corrected(lines_of([0.5]))[0].differs is None
