"""Whether faults come in bouts, the gap that parts them, and bouts counted in live time."""

import math

import numpy as np
import pytest
from scipy.optimize import differential_evolution

from soak.statistics.bounds import rate_at_most
from soak.statistics.bouts import (
    FEWEST,
    SHOWN,
    by_gap,
    fewest_bouts,
    learned,
    most_bouts,
    uneven_chance,
)

AIR_CONDITIONING = [3.0, 5, 7, 18, 43, 85, 91, 98, 100, 130, 230, 487]
"""Hours between failures of one air-conditioning set, Proschan, Technometrics 5 (1963) 375-383, as
set `aircondit` of R package boot has them: 12 intervals (values from memory, their sum checked).
Proschan takes those of one plane to be exponential."""

TWO_BOUTS = [100.0, 101, 102, 103, 200, 201, 202]


@pytest.mark.parametrize("faults", [1, 2, 5, 12, 60])
def test_independent_faults_are_called_bouts_as_seldom_as_stated(faults):
    """Of 4000 uniform draws 5 % may be; three standard errors are 0.0104."""
    chance = np.random.default_rng(1951)
    called = 0
    for _ in range(4000):
        at = np.sort(chance.uniform(0, 1, faults))
        called += uneven_chance(np.diff([0, *at, 1])) <= SHOWN
    assert called / 4000 == pytest.approx(SHOWN, abs=0.0145)


def test_published_intervals_of_one_plane_are_not_called_bouts():
    """The statistic by Epstein's formula, written out: 2 r (ln(T / r) - mean ln) / (1 + ...)."""
    number, total = 12, 1297.0
    mean_log = sum(math.log(one) for one in AIR_CONDITIONING) / number
    statistic = 2 * number * (math.log(total / number) - mean_log) / (1 + 13 / 72)
    from scipy.stats import chi2

    assert sum(AIR_CONDITIONING) == total
    assert uneven_chance(AIR_CONDITIONING) == pytest.approx(chi2.sf(statistic, number - 1))
    assert uneven_chance(AIR_CONDITIONING) > SHOWN


def test_the_gaps_are_learned_as_another_maximiser_learns_them():
    """The likelihood written anew and climbed by scipy's differential evolution."""
    chance = np.random.default_rng(1995)
    short = chance.random(40) < 0.7
    gaps = np.where(short, chance.exponential(3.0, 40), chance.exponential(60.0, 40))
    first, last = 45.0, 20.0

    def unlikely(at):
        within, between, share = math.exp(at[0]), math.exp(at[1]), at[2]
        each = share * np.exp(-gaps / within) / within
        each += (1 - share) * np.exp(-gaps / between) / between
        ends = share * math.exp(-last / within) + (1 - share) * math.exp(-last / between)
        return -(np.log(each).sum() + math.log(ends) - first / between - math.log(between))

    found = learned([first, *gaps, last])
    best = differential_evolution(unlikely, [(-3, 3), (3, 7), (0.01, 0.99)], seed=1, tol=1e-10)
    assert found is not None
    assert found.log_likelihood == pytest.approx(-best.fun, abs=1e-5)
    assert (found.within, found.between) == pytest.approx(np.exp(best.x[:2]), rel=2e-3)
    assert found.share == pytest.approx(best.x[2], abs=1e-3)


def test_the_parting_gap_is_where_both_kinds_are_as_likely():
    """Langton, Collett & Sibly: share / within e^(-x / within) equals the other kind's."""
    found = learned([90.0, 1.0, 2.0, 1.5, 80.0, 0.5, 2.5, 120.0, 1.0, 60.0])
    assert found is not None
    gap = found.parting
    short = found.share / found.within * math.exp(-gap / found.within)
    long = (1 - found.share) / found.between * math.exp(-gap / found.between)
    assert short == pytest.approx(long)


def test_bouts_by_a_fixed_gap_are_counted_in_the_time_in_which_one_could_begin():
    """By hand: 100 before, then 97 - 10 between, and 300 - 202 - 10 after; the rest is dead."""
    found = by_gap(TWO_BOUTS, 300.0, 10.0)
    assert found.number == 2
    assert found.live == pytest.approx(100 + 87 + 88)


def test_no_fault_is_no_bout_and_one_fault_is_one():
    """In all of the time, whichever side is the safe one."""
    for count in (most_bouts, fewest_bouts):
        assert (count([], 50.0, 1.0).number, count([], 50.0, 1.0).live) == (0, 50.0)
        assert (count([20.0], 50.0, 1.0).number, count([20.0], 50.0, 1.0).live) == (1, 50.0)


def test_faults_are_merged_where_they_are_shown_to_come_in_bouts():
    """Seven faults, four and three of them within seconds of a hundred."""
    for count in (most_bouts, fewest_bouts):
        found = count(TWO_BOUTS, 300.0, 0.1)
        assert found.number == 2
        assert 1 < found.gap < 97


def test_in_doubt_a_fault_counts_by_itself_for_a_bound_and_with_its_neighbour_for_a_quiet():
    """Three pairs of which the test says only that they may be bouts."""
    times = [20.0, 22, 55, 57, 90, 92]
    assert 0.05 < uneven_chance(np.diff([0, *times, 110])) < 0.5
    assert most_bouts(times, 110.0, 0.1).number == 6
    assert fewest_bouts(times, 110.0, 0.1).number < 6


def test_a_bound_is_stated_for_none_and_from_five_on():
    """The one-sided bound of bouts in live time; for 1 to 4 there is none."""
    assert most_bouts([], 10.0, 0.1).rate_at_most(0.95) == pytest.approx(rate_at_most(0, 10, 0.95))
    evenly = [float(at) for at in range(10, 10 * FEWEST + 1, 10)]
    assert most_bouts(evenly, 60.0, 0.1).rate_at_most(0.95) == rate_at_most(5, 60.0, 0.95)
    for number in range(1, FEWEST):
        assert most_bouts(evenly[:number], 60.0, 0.1).rate_at_most(0.95) is None


def test_faults_told_at_one_time_are_told_apart_no_finer_than_the_resolution():
    """Two losses with only blindness between them lie at one place of the time watched."""
    assert most_bouts([10.0, 10.0, 40.0], 60.0, 1.0).number in (2, 3)
    assert fewest_bouts([10.0] * 5, 60.0, 1.0).number == 1
