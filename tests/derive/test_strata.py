"""Starts of one kind are counted together, and one share is stated only if they are alike."""

from dataclasses import replace

import numpy as np
import pytest
from made_up_soak import clean_night, demand, fail_start
from scipy.stats import beta

from soak.derive.starting.starts import Start
from soak.derive.strata import halves_in_words, in_words, kind_of, strata
from soak.judge.judging import judge_requirement

STARTS = demand("starts", confidence=0.95, params={"promised": 20, "start_limit_s": 60.0})


def start(kind="warm", took_s=20.0, off_s=30.0):
    return Start(kind, 1, 0.0, 55.0, took_s, "", "starts", "power_cycles", off_s)


def judged(soak, **changes):
    requirement = replace(STARTS, **changes)
    return judge_requirement(requirement, [soak.demanding(requirement)])


def test_early_and_late_half_are_always_said():
    """Also where nothing failed, the finding says both halves."""
    finding = judged(clean_night())
    assert "Early half 10 of 10, late half 10 of 10." in finding.aside
    [group] = finding.detail["strata"]
    assert (group["early"], group["late"]) == ({"starts": 10, "failed": 0},) * 2


def test_failures_spread_evenly_have_one_share():
    """Three failures apart: the bound of Clopper and Pearson for 3 of 20, by scipy's quantile."""
    soak = clean_night()
    for at in (2, 9, 16):
        fail_start(soak, at)
    finding = judged(soak)
    assert finding.bound_low is None
    assert finding.bound_high == pytest.approx(beta.ppf(0.95, 4, 17))
    assert finding.value == 3


def test_a_bunch_of_failures_has_no_single_share():
    """Four failures in a row of 20 are no matter of luck: counted, not met, and no percentage."""
    soak = clean_night()
    for at in (10, 11, 12, 13):
        fail_start(soak, at)
    finding = judged(soak)
    assert (finding.bound_low, finding.bound_high) == (None, None)
    assert finding.value == 4
    assert "not spread evenly" in finding.because
    assert finding.verdict == "not met"


def test_kinds_have_bounds_of_their_own():
    """Sixty warm and three cold good starts: 4.87 % and 63.2 % (success run), never one of 63."""
    groups = strata([(start(), False)] * 60 + [(start("cold"), False)] * 3, 0.95)
    assert [(group.kind, group.starts) for group in groups] == [("warm", 60), ("cold", 3)]
    assert [group.bound_high for group in groups] == pytest.approx([0.0487, 0.632], abs=5e-4)
    assert halves_in_words(groups) == (
        "Warm starts, early half 30 of 30, late half 30 of 30; "
        "cold starts, early half 2 of 2, late half 1 of 1."
    )


def test_finding_over_two_kinds_states_no_single_bound():
    """A stretch with both kinds keeps the count whole and the bounds apart."""
    soak = clean_night()
    soak.mark_list = [
        replace(mark, detail={**mark.detail, "kind": "cold"})
        if mark.what in ("start", "start ended") and mark.detail["number"] > 17
        else mark
        for mark in soak.mark_list
    ]
    finding = judged(soak)
    assert finding.because.startswith("20 of 20 starts worked")
    assert (finding.bound_low, finding.bound_high) == (None, None)
    assert [group["kind"] for group in finding.detail["strata"]] == ["warm", "cold"]


def test_the_halves_of_two_kinds_are_for_the_bench_only():
    """How failures lie in time is an aside of the finding, one kind or several."""
    soak = clean_night()
    soak.mark_list = [
        replace(mark, detail={**mark.detail, "kind": "cold"})
        if mark.what in ("start", "start ended") and mark.detail["number"] > 17
        else mark
        for mark in soak.mark_list
    ]
    finding = judged(soak)
    assert "early half" in finding.aside
    assert "half" not in finding.because


def test_a_short_off_makes_a_quick_start():
    """Two seconds without power leave capacitors charged: neither a warm nor a cold start."""
    assert kind_of(start(off_s=2.0)) == "quick"
    assert kind_of(start(off_s=30.0)) == "warm"
    assert kind_of(start(off_s=None)) == "warm"


def test_starts_that_grow_slower_are_told():
    """From 20 s to 26 s over 60 starts under noise: said, with how much by the median slope."""
    noise = np.random.default_rng(3).normal(0, 0.3, 60)
    tried = [(start(took_s=20 + 0.1 * at + noise[at]), False) for at in range(60)]
    [group] = strata(tried, 0.95)
    assert group.slower_s == pytest.approx(5.9, abs=0.5)
    assert "slower" in in_words([group])


def test_noise_is_not_called_slower():
    """Of 200 rows without a trend, none is called slower: it must be both sure and a tenth."""
    chance = np.random.default_rng(4)
    for _ in range(200):
        tried = [(start(took_s=20 + noise), False) for noise in chance.normal(0, 0.5, 60)]
        assert strata(tried, 0.95)[0].slower_s == 0.0


def test_alike_starts_are_seldom_called_uneven():
    """Units that fail each start with one chance: called uneven no more often than stated, 5 %."""
    chance = np.random.default_rng(5)
    rows = chance.random((1000, 60)) < 0.1
    uneven = sum(
        not strata([(start(), bool(failed)) for failed in row], 0.95)[0].alike for row in rows
    )
    assert uneven <= 0.05 * 1000 + 2 * np.sqrt(1000 * 0.05 * 0.95)
