"""Two Poisson rates, and a fault that is gone, against published values and a second library."""

import math

import pytest
from scipy.stats import binomtest
from statsmodels.stats import rates

from soak.statistics.compare import (
    chance_by_luck,
    chance_of_passing,
    chance_of_so_few,
    chance_of_starts,
    compare_rates,
    quiet_needed,
    starts_needed,
    time_needed,
)

COUNTS = [
    (60, 51477.5, 30, 54308.7),
    (41, 28010.0, 15, 19017.0),
    (10, 1000.0, 2, 1000.0),
    (0, 100.0, 5, 100.0),
]


@pytest.mark.parametrize(
    ("counts", "two_sided"),
    list(zip(COUNTS, [0.00067518, 0.0408520, 0.0385742, 0.0625], strict=True)),
)
def test_two_rates_differ_by_the_tabled_chance(counts, two_sided):
    """Data of Gu, Ng, Tang & Schucany 2008 (rows 1 and 2 from memory, recomputed); 3, 4 by hand."""
    assert compare_rates(*counts).differ == pytest.approx(two_sided, rel=5e-5)


@pytest.mark.parametrize(
    ("counts", "doubled"),
    list(zip(COUNTS, [0.00085611, 0.0476602, 0.0385742, 0.0625], strict=True)),
)
def test_the_two_sided_chance_is_not_the_doubled_one_and_says_which_it_is(counts, doubled):
    """Twice the smaller one-sided chance is tabled apart; they meet only where times are equal."""
    count, time, other, other_time = counts
    found, mirrored = compare_rates(*counts), compare_rates(other, other_time, count, time)
    assert 2 * min(found.fewer, mirrored.fewer) == pytest.approx(doubled, rel=5e-5)
    assert (found.differ == pytest.approx(doubled, rel=1e-6)) == (time == other_time)
    assert "every split no likelier than the one seen" in found.method
    assert "E-test" not in found.method  # a test whose figure nobody is shown


def test_equal_times_are_a_sign_test_done_by_hand():
    """With equal times counts are fair coins: P(X <= 2 of 12) = 79/4096, P(X = 0 of 5) = 1/32."""
    assert compare_rates(2, 1000.0, 10, 1000.0).fewer == pytest.approx(79 / 4096, rel=1e-12)
    assert compare_rates(0, 100.0, 5, 100.0).fewer == pytest.approx(1 / 32, rel=1e-12)


def test_one_sided_chances_are_the_tabled_ones():
    """The same data one-sided, second group against first (recomputed): .00042805 and .0238301."""
    assert compare_rates(30, 54308.7, 60, 51477.5).fewer == pytest.approx(0.00042805, rel=5e-5)
    assert compare_rates(15, 19017.0, 41, 28010.0).fewer == pytest.approx(0.0238301, rel=5e-5)


@pytest.mark.parametrize("counts", COUNTS)
def test_the_two_sided_test_agrees_with_a_second_library(counts):
    """The library statsmodels, method exact-cond, gives the same chances."""
    exact = rates.test_poisson_2indep(*counts, method="exact-cond").pvalue
    assert compare_rates(*counts).differ == pytest.approx(exact, rel=1e-6)


def test_nothing_seen_in_either_time_tells_nothing():
    """No event at all: every chance is 1."""
    found = compare_rates(0, 4.0, 0, 8.0)
    assert (found.fewer, found.differ) == (1.0, 1.0)


@pytest.mark.parametrize(
    ("seen", "hours", "chance", "needed_h"),
    [
        (3, 4.0, 0.05, 6.9),
        (3, 4.0, 0.01, 14.6),
        (1, 4.0, 0.05, 76.0),
        (5, 4.0, 0.05, 3.3),
        (10, 8.0, 0.05, 2.8),
    ],
)
def test_quiet_hours_solve_the_formula_of_luck(seen, hours, chance, needed_h):
    """(T0/(T0+T1))^n solved by hand for T1 = T0 (p^(-1/n) - 1), to one decimal."""
    found = quiet_needed(seen, hours, chance)
    assert found == pytest.approx(needed_h, abs=0.05)
    assert chance_by_luck(seen, hours, found) == pytest.approx(chance, rel=1e-12)


def test_rule_of_three_is_too_short_for_a_fault_that_is_gone():
    """Three over the rate says 4 h for 3 in 4 h; the exact chance of 4 quiet hours is 1 in 8."""
    assert chance_by_luck(3, 4.0, 4.0) == pytest.approx(1 / 8)


def test_luck_is_the_exact_comparison_with_no_event_after():
    """(T0/(T0+T1))^n is the one-sided conditional test where the second count is zero."""
    assert chance_by_luck(3, 4.0, 6.9) == pytest.approx(
        compare_rates(0, 6.9, 3, 4.0).fewer, rel=1e-12
    )


def test_thirteen_in_five_hours_and_a_quiet_one_are_luck_once_in_eleven():
    """(5/6)^13 by hand: 0.0935."""
    assert chance_of_so_few(13, 5.0, 0, 1.0) == pytest.approx((5 / 6) ** 13)
    assert pytest.approx(0.0935, abs=5e-5) == (5 / 6) ** 13


@pytest.mark.parametrize("again", [0, 1, 3, 9])
@pytest.mark.parametrize(
    ("seen", "before", "since"), [(13, 5.0, 1.0), (3, 4.0, 40.0), (1, 8.0, 0.5)]
)
def test_so_few_since_are_the_lower_tail_of_the_conditional_binomial(seen, before, since, again):
    """Przyborowski & Wilenski 1940, against scipy's exact binomial test."""
    exact = binomtest(again, seen + again, since / (before + since), alternative="less").pvalue
    assert chance_of_so_few(seen, before, again, since) == pytest.approx(exact, rel=1e-9)


@pytest.mark.parametrize(
    ("seen", "before", "needed"), [(3, 4.0, 6.9), (1, 4.0, 76.0), (5, 4.0, 3.3), (10, 8.0, 2.8)]
)
def test_the_time_needed_after_a_quiet_is_that_of_the_closed_form(seen, before, needed):
    """With none since it is `quiet_needed`, to one decimal as solved by hand."""
    assert time_needed(seen, before, 0, 0.05) == pytest.approx(needed, abs=0.05)
    assert time_needed(seen, before, 0, 0.05) == pytest.approx(quiet_needed(seen, before, 0.05))


@pytest.mark.parametrize("again", [0, 1, 4])
def test_after_the_time_needed_the_chance_is_what_was_asked_for(again):
    """With some since, too."""
    needed = time_needed(13, 5.0, again, 0.05)
    assert chance_of_so_few(13, 5.0, again, needed) == pytest.approx(0.05, rel=1e-9)


@pytest.mark.parametrize("again", [0, 1, 2])
@pytest.mark.parametrize(("failed", "tried", "since"), [(3, 20, 60), (1, 40, 5), (7, 7, 12)])
def test_starts_are_compared_by_fishers_exact_test(failed, tried, again, since):
    """One-sided: ways to choose the failed ones of all starts, counted in whole numbers."""
    bad = failed + again
    ways = sum(math.comb(since, k) * math.comb(tried, bad - k) for k in range(again + 1))
    exact = ways / math.comb(tried + since, bad)
    assert chance_of_starts(failed, tried, again, since) == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize(("failed", "tried", "again"), [(1, 20, 0), (3, 20, 0), (5, 30, 1)])
def test_so_many_starts_are_just_enough(failed, tried, again):
    """One fewer is not; one failed of 20 needs 19 times as many, by hand: 20/(20+n) = 5 %."""
    needed = starts_needed(failed, tried, again, 0.05)
    assert chance_of_starts(failed, tried, again, needed) <= 0.05
    assert chance_of_starts(failed, tried, again, needed - 1) > 0.05
    if (failed, tried) == (1, 20):
        assert needed == 380


@pytest.mark.parametrize(("one_try", "two", "three"), [(0.3, 0.51, 0.657), (0.5, 0.75, 0.875)])
def test_a_bad_unit_passes_one_of_three_tries(one_try, two, three):
    """1 - (1 - p)^k by hand: .3 gives .51 and .66, .5 gives .75 and .875."""
    assert chance_of_passing(one_try, 2) == pytest.approx(two)
    assert chance_of_passing(one_try, 3) == pytest.approx(three)


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: compare_rates(-1, 4.0, 1, 4.0),
        lambda: compare_rates(1, 0.0, 1, 4.0),
        lambda: compare_rates(1, 4.0, 1, math.nan),
        lambda: chance_by_luck(0, 4.0, 8.0),
        lambda: chance_by_luck(3, 4.0, -1.0),
        lambda: quiet_needed(3, 4.0, 5.0),
        lambda: chance_of_so_few(0, 4.0, 1, 8.0),
        lambda: time_needed(3, 4.0, 0, 1.0),
        lambda: chance_of_starts(3, 20, 2, 1),
        lambda: chance_of_starts(3, 2, 0, 1),
        lambda: quiet_needed(3, math.inf, 0.05),
        lambda: chance_of_passing(1.5, 2),
        lambda: chance_of_passing(0.3, 0),
    ],
)
def test_impossible_figures_raise(impossible):
    """What cannot be is refused in words."""
    with pytest.raises(ValueError, match=r"impossible|never seen|between 0 and 1|tell nothing"):
        impossible()
