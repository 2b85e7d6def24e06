"""One confidence over several bounds."""

from dataclasses import replace

import pytest
from made_up_soak import clean_night, demand
from statsmodels.stats.multitest import multipletests

from soak.judge.grade import judge
from soak.judge.overall import in_words, overall_of, together


def test_six_bounds_at_95_percent_miss_one_time_in_four():
    """Six independent bounds at 95 %: 1 - 0.95^6 = 26 % that one of them does not hold."""
    found = together([0.95] * 6)
    assert 1 - found.independent == pytest.approx(0.2649, abs=5e-5)
    assert found.at_least == pytest.approx(0.70)


def test_bounds_corrected_by_a_second_library_hold_together():
    """Bonferroni's level for each of 13, as statsmodels corrects it."""
    alpha = multipletests([0.5] * 13, alpha=0.05, method="bonferroni")[3]
    assert together([1 - alpha] * 13).at_least == pytest.approx(0.95)


def test_only_stated_confidence_bounds_are_counted():
    """A guard band is no confidence bound, and a demand without evidence states none."""
    probe = {"needs": frozenset({"probe"}), "check": "spots", "unit": "degC", "guarded": True}
    demands = [
        demand("starts", confidence=0.95, params={"promised": 20, "start_limit_s": 60.0}),
        demand("no dropout", "capture", confidence=0.9),
        replace(demand("no restart", "capture", confidence=0.9), stretch="never"),
        demand("at most", "probe.outside", 60.0, **probe),
    ]
    found = overall_of(judge([clean_night().demanding(*demands)]).findings)
    assert (found.bounds, found.at_least) == (2, pytest.approx(0.85))
    assert "85 %" in in_words(found)


def test_no_bound_has_no_overall_confidence():
    """Where no bound is stated nothing is said; and nothing can be shared out."""
    assert overall_of([]) is None
    with pytest.raises(ValueError, match="no bound"):
        together([])


@pytest.mark.parametrize("confidence", [95, 0.0, float("nan")])
def test_impossible_confidence_raises(confidence):
    """95 instead of 0.95 gives a sentence that says how to write it."""
    with pytest.raises(ValueError, match=r"write 0\.95"):
        together([confidence])
