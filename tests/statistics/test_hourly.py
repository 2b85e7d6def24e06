"""The count that a rate allows, against the Poisson distribution of another library function."""

import pytest
from scipy.stats import poisson

from soak.statistics.hourly import HALF_PASSES, chance_passed, count_allowed


@pytest.mark.parametrize("expected", [0.05, 0.3, 1.0, 2.5, 4.0, 8.0, 20.0, 72.0])
def test_a_unit_at_half_the_rate_passes_and_no_larger_count_is_allowed(expected):
    """The smallest count with 95 % at half the rate, summed from the probabilities themselves."""
    allowed = count_allowed(expected)
    half = expected / 2
    assert sum(poisson.pmf(k, half) for k in range(allowed + 1)) >= HALF_PASSES
    assert sum(poisson.pmf(k, half) for k in range(allowed)) < HALF_PASSES


@pytest.mark.parametrize(
    ("expected", "allowed", "passes"),
    [
        # Cumulative Poisson table, any textbook, from memory, confirmed by scipy: means 0.5, 2, 4.
        (1.0, 2, {0.5: 0.9856, 1.0: 0.9197, 2.0: 0.6767, 4.0: 0.2381}),
        (4.0, 5, {0.5: 0.9834, 1.0: 0.7851, 2.0: 0.1912, 4.0: 0.0014}),
    ],
)
def test_who_passes_is_the_cumulative_poisson_table(expected, allowed, passes):
    """Within one hour at one an hour two may come, within four hours five."""
    assert count_allowed(expected) == allowed
    for times, chance in passes.items():
        assert chance_passed(allowed, times * expected) == pytest.approx(chance, abs=5e-5)


def test_nothing_allowed_is_nothing():
    """A rate of none allows none, however long the soak."""
    assert count_allowed(0.0) == 0


def test_an_impossible_time_is_refused():
    """No count belongs to less than nothing."""
    with pytest.raises(ValueError, match="impossible"):
        count_allowed(-1.0)
