"""Two soaks side by side: what differs is said with its test, what does not is not."""

import numpy as np
from made_up_soak import HOT_S, STARTS_S, clean_night, demand
from scipy.stats import fisher_exact

from soak.judge.explain.comparison import compare


def lines(one, other) -> dict:
    return {line.what: line for line in compare(one, other)}


def dropping(count: int):
    soak = clean_night("S2")
    for number in range(count):
        at_s = STARTS_S + 600 + number * (HOT_S - 1200) / max(count, 1)
        soak.spell("capture", at_s, at_s + 1.0, "no signal")
    return soak


def test_two_clean_nights_differ_in_nothing():
    """The same evidence twice: every test says no difference, and no fault line appears."""
    found = lines(clean_night("S1"), clean_night("S2"))
    assert not any(line.differs for line in found.values())
    assert "dropout" not in found
    assert found["starts"].one == found["starts"].other == "0 of 20 failed"


def test_many_dropouts_against_none_differ_and_one_against_none_does_not():
    """12 against 0 in equal times is more than chance; 1 against 0 is not (a fair coin's toss)."""
    assert lines(clean_night(), dropping(12))["dropout"].differs is True
    assert lines(clean_night(), dropping(1))["dropout"].differs is False


def test_five_against_none_is_the_published_worked_value():
    """0 and 5 events in equal times: two-sided 0.0625 by the exact conditional test, 2/32."""
    method = lines(clean_night(), dropping(5))["dropout"].method
    assert "p = 0.06" in method


def test_a_chance_too_small_to_print_is_never_nought():
    """16 against 0 in equal times: 2 / 2^16 = 0.00003, which three decimals print as 0.000."""
    method = lines(clean_night(), dropping(16))["dropout"].method
    assert "p < 0.001;" in method


def test_a_night_that_ended_hot_differs_in_grade_and_the_spots_maximum():
    """A median of the last half hour hides a peak; the maximum and the grade do not."""
    limit = demand("at most", "probe.outside", 60.0, unit="degC")
    cool, hot = clean_night().demanding(limit), clean_night("S2").demanding(limit)
    t_s, value = hot.readings["probe.outside"]
    hot.readings["probe.outside"] = (t_s, np.where(np.abs(t_s - 9000) < 300, 90.0, value))
    found = lines(cool, hot)
    assert found["outside, highest"].other == "90.0 °C"
    assert found["grade, this soak alone"].one != found["grade, this soak alone"].other
    assert "failed" in found["grade, this soak alone"].other


def test_every_kind_of_loss_is_compared():
    """A device that goes from the port is one as much as a picture that does."""
    soak = clean_night("S2")
    soak.spell("stick", STARTS_S + 900, STARTS_S + 903, "gone")
    found = lines(clean_night(), soak)
    assert found["stick gone"].other.startswith("1 in")
    assert found["length"].one == found["length"].other


def test_failed_starts_are_tested_as_shares():
    """Fisher's exact test of two shares, by a second library's words for it."""
    soak = clean_night("S2")
    for index, mark in enumerate(soak.mark_list):
        if mark.what == "start ended" and mark.detail["number"] > 10:
            detail = {**mark.detail, "seen": False, "took_s": None}
            soak.mark_list[index] = type(mark)(
                mark.t_s, mark.what, mark.stretch, mark.check, detail
            )
    line = lines(clean_night(), soak)["starts"]
    failed, tried = (int(word) for word in line.other.split() if word.isdigit())
    p = fisher_exact([[0, 20], [failed, tried - failed]]).pvalue
    assert failed >= 5
    assert line.differs is True
    assert ("p < 0.001;" if p < 0.001 else f"p = {p:.3f};") in line.method
