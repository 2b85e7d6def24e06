"""One confidence over several bounds."""

from dataclasses import replace

import pytest
from made_up_soak import clean_night, demand
from statsmodels.stats.multitest import multipletests

from soak.judge.grade import judge
from soak.judge.overall import in_words, overall_of, overall_of_needs, together


def test_six_bounds_at_95_percent_are_sure_to_70_percent_at_least():
    """Bonferroni: 1 - 6 x 0.05; on the mean 0.3 of them do not hold."""
    found = together([0.95] * 6)
    assert (found.at_least, found.missed) == (pytest.approx(0.70), pytest.approx(0.3))


def test_bounds_corrected_by_a_second_library_hold_together():
    """Bonferroni's level for each of 13, as statsmodels corrects it."""
    alpha = multipletests([0.5] * 13, alpha=0.05, method="bonferroni")[3]
    assert together([1 - alpha] * 13).at_least == pytest.approx(0.95)
    assert together([0.95] * 13).each_for_all == pytest.approx(1 - alpha)


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
    assert "2 bounds are stated, each sure by itself to at least 90 %" in in_words(found)
    assert "up to 0.15 of them" in in_words(found)


def test_bounds_of_one_record_are_named_as_overlapping():
    """Three of the picture in one stretch count in the same hours; one of another stretch is apart.

    A bound over the whole soak overlaps with all of its source.
    """
    capture = [
        replace(demand(rule, "capture", confidence=0.95), stretch=stretch)
        for rule, stretch in (
            ("starts", "hot run"),
            ("no dropout", "hot run"),
            ("no restart", "hot run"),
            ("no dropout", "cold starts"),
        )
    ]
    found = overall_of_needs(capture)
    assert found.overlapping == [("hot run", 3)]
    assert "count in the same record" in in_words(found)
    assert "3 in hot run" in in_words(found)
    whole = overall_of_needs([*capture, replace(capture[1], stretch="")])
    assert whole.overlapping == [("", 5)]
    assert "5 over the whole soak" in in_words(whole)
    apart = overall_of_needs([capture[0], replace(capture[0], stretch="cold starts")])
    assert "same record" not in in_words(apart)


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
