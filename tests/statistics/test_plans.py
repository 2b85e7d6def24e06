"""Truncated sequential plans: risks against published plans, counting all ways, and chance."""

import itertools

import numpy as np
import pytest
from scipy.stats import binom, poisson

from soak.judge.planning import hours_plan, starts_plan, wald_hours, wald_starts
from soak.statistics.plans import HoursPlan, StartsPlan

# Times in multiples of the mean time to be refused; the last failure always rejects.
III_D = HoursPlan(
    [4.40, 5.79, 7.18, 8.56, 9.94, 11.34, 12.72, 14.10, 15.49, 16.88, 18.26, 19.65, *[20.60] * 4],
    [
        -1,
        -1,
        *[0.70, 2.08, 3.48, 4.86, 6.24, 7.63, 9.02, 10.40, 11.79, 13.18, 14.56, 15.94, 17.34],
        20.60,
    ],
)


def test_lines_for_starts_are_the_handbooks():
    """NIST/SEMATECH e-Handbook 6.2.6: accept -0.939 + 0.0397 n, reject 1.205 + 0.0397 n."""
    lines = wald_starts(0.01, 0.10, 0.05, 0.10)
    assert (lines.below, lines.above) == pytest.approx((0.939, 1.205), abs=5e-4)
    assert lines.slope == pytest.approx(0.0397, abs=5e-5)


def test_lines_for_hours_accept_and_reject_as_wald_says():
    """500 h against 250 h at 10 %: accept at 1098.61 + 346.574 r (Wald, recomputed)."""
    lines = wald_hours(500, 250, 0.1, 0.1)
    assert lines.below / lines.slope == pytest.approx(1098.61, abs=5e-3)
    assert lines.above / lines.slope == pytest.approx(1098.61, abs=5e-3)
    assert 1 / lines.slope == pytest.approx(346.574, abs=5e-4)


def test_open_ended_lines_do_what_was_simulated_of_them():
    """The handbook lines over 2000 starts: 4000 simulated runs gave .978, .099; mean 30.4, 22.5."""
    lines = wald_starts(0.01, 0.10, 0.05, 0.10)
    starts = np.arange(1, 2001)
    accept = np.maximum(np.floor(lines.slope * starts - lines.below), -1).astype(int)
    reject = np.ceil(lines.slope * starts + lines.above).astype(int)
    reject[-1] = accept[-1] + 1
    plan = StartsPlan(accept.tolist(), reject.tolist())
    assert plan.shortest == 24
    for share, accepted, mean in ((0.01, 0.978, 30.4), (0.10, 0.099, 22.5)):
        found = plan.outlook(share)
        assert found.accepted == pytest.approx(accepted, abs=0.015)
        assert found.expected == pytest.approx(mean, abs=1.0)


def test_a_published_plan_has_its_published_true_risks():
    """MIL-HDBK-781 plan III-D (from memory): nominal 10 %, true 12.8 % both, usual length 10.2."""
    assert 1 - III_D.outlook(2.0).accepted == pytest.approx(0.128, abs=5e-4)
    assert III_D.outlook(1.0).accepted == pytest.approx(0.128, abs=5e-4)
    assert III_D.outlook(2.0).expected == pytest.approx(10.2, abs=0.05)
    assert III_D.longest == 20.60


def test_risks_of_a_short_plan_are_counted_over_all_courses():
    """Seven starts: each of the 128 courses is followed by hand, start by start."""
    plan = StartsPlan([-1, -1, 0, 0, 0, 1, 2], [2, 2, 2, 2, 3, 3, 3])
    share, accepted, expected = 0.3, 0.0, 0.0
    for course in itertools.product([0, 1], repeat=7):
        chance = np.prod([share if failed else 1 - share for failed in course])
        failed = np.cumsum(course)
        for at in range(7):
            if failed[at] <= plan.accept_up_to[at] or failed[at] >= plan.reject_from[at]:
                accepted += chance * (failed[at] <= plan.accept_up_to[at])
                expected += chance * (at + 1)
                break
    found = plan.outlook(share)
    assert (found.accepted, found.expected) == pytest.approx((accepted, expected))


def test_risks_for_hours_agree_with_simulated_failures():
    """Forty thousand simulated courses, followed failure by failure, agree within 4 sigma."""
    chance = np.random.default_rng(781)
    accepted, lengths = 0, []
    for _ in range(40_000):
        t = 0.0
        for accept, reject in zip(III_D.accept_at, III_D.reject_at, strict=True):
            t += chance.exponential(1.5)
            if t >= accept:
                accepted += 1
                lengths.append(accept)
                break
            if t <= reject:
                lengths.append(t)
                break
    found = III_D.outlook(1.5)
    sigma = np.sqrt(found.accepted * (1 - found.accepted) / 40_000)
    assert abs(accepted / 40_000 - found.accepted) < 4 * sigma
    assert abs(np.mean(lengths) - found.expected) < 4 * np.std(lengths) / 200


def test_a_plan_that_never_decides_early_is_the_plain_one():
    """Without early decisions the risks are those of the binomial and the Poisson distribution."""
    starts = StartsPlan([*[-1] * 49, 2], [3] * 50)
    assert starts.outlook(0.05).accepted == pytest.approx(binom.cdf(2, 50, 0.05))
    hours = HoursPlan([100.0] * 3, [-1, -1, 100.0])
    assert hours.outlook(40.0).accepted == pytest.approx(poisson.cdf(2, 2.5))


@pytest.mark.parametrize(
    ("good", "bad", "alpha", "beta"),
    [(0.01, 0.10, 0.05, 0.10), (0.005, 0.05, 0.10, 0.05), (0.02, 0.2, 0.05, 0.05)],
)
def test_plan_for_starts_keeps_its_risks_and_its_length(good, bad, alpha, beta):
    """True risks no larger than asked, an end, and fewer starts on average than its longest."""
    plan = starts_plan(good, bad, alpha, beta)
    assert 1 - plan.outlook(good).accepted <= alpha
    assert plan.outlook(bad).accepted <= beta
    assert plan.outlook(good).expected < 0.8 * plan.longest


def test_no_plan_for_starts_is_shorter_than_the_best_plain_one():
    """Neyman and Pearson 1933: no rule on so many starts beats counting them all."""
    plan = starts_plan(0.01, 0.10, 0.05, 0.10)
    plain = next(
        n
        for n in range(1, 500)
        if any(binom.sf(c, n, 0.01) <= 0.05 and binom.cdf(c, n, 0.10) <= 0.10 for c in range(n))
    )
    assert plain <= plan.longest <= 1.5 * plain


@pytest.mark.parametrize(("good", "bad"), [(500.0, 250.0), (100.0, 10.0), (24.0, 4.0)])
def test_plan_for_hours_keeps_its_risks_and_its_length(good, bad):
    """True risks no larger than asked, an end, and less time on average than its longest."""
    plan = hours_plan(good, bad, 0.1, 0.1)
    assert 1 - plan.outlook(good).accepted <= 0.1
    assert plan.outlook(bad).accepted <= 0.1
    assert plan.outlook(good).expected < 0.8 * plan.longest


def test_plan_in_minutes_is_the_plan_in_hours():
    """Times have no hidden unit: sixty times the mean times give sixty times the plan."""
    hours, minutes = hours_plan(100, 10, 0.1, 0.1), hours_plan(6000, 600, 0.1, 0.1)
    assert minutes.accept_at == pytest.approx([60 * t for t in hours.accept_at])


def test_two_kinds_far_apart_need_no_failure_allowed():
    """A unit that fails in 1000 h and one that fails in 1 h: the first failure decides."""
    plan = hours_plan(1000.0, 1.0, 0.1, 0.1)
    assert len(plan.accept_at) == 1
    assert plan.longest < 1000 * 0.106  # -ln(0.9) of the good mean time


@pytest.mark.parametrize(
    "impossible",
    [
        lambda: starts_plan(0.1, 0.01, 0.05, 0.1),
        lambda: starts_plan(0.0, 0.01, 0.05, 0.1),
        lambda: starts_plan(0.01, 0.1, 5, 0.1),
        lambda: starts_plan(0.01, 0.1, 0.6, 0.6),
        lambda: starts_plan(0.01, 0.0101, 0.05, 0.05),
        lambda: hours_plan(10, 100, 0.1, 0.1),
        lambda: hours_plan(11, 10, 0.1, 0.1),
        lambda: hours_plan(float("inf"), 100, 0.1, 0.1),
        lambda: StartsPlan([-1, 0], [2, 2]),
        lambda: StartsPlan([], []),
        lambda: HoursPlan([10.0, 5.0], [1.0, 10.0]),
        lambda: HoursPlan([10.0], [5.0]),
        lambda: III_D.outlook(0.0),
        lambda: StartsPlan([0], [1]).outlook(1.5),
    ],
)
def test_impossible_plans_raise(impossible):
    """Plans that cannot be, or that have no end, are refused in words."""
    with pytest.raises(ValueError, match=r"\w+ \w+"):
        impossible()


def test_an_hours_plan_is_found_without_trying_what_is_longer_than_one_already_found(monkeypatch):
    """8 h from 1 h: the narrowest lines give no plan at all, and were tried 8973 times in vain."""
    tried, outlook = [], HoursPlan.outlook

    def counted(self, mean):
        tried.append(mean)
        return outlook(self, mean)

    monkeypatch.setattr(HoursPlan, "outlook", counted)
    assert hours_plan(8.0, 1.0, 0.1, 0.1).longest == pytest.approx(4.305, abs=0.001)
    assert len(tried) < 1000
