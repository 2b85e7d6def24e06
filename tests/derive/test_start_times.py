"""Times to picture: outliers by the modified z-score, trend by Mann-Kendall and Theil-Sen."""

import pytest
from headers import sheet_of

from soak.derive.starting.starts import Start, usual_start_s
from soak.derive.strata import outliers, strata, trend_of


def started(times_s, kind="warm"):
    """Return starts of one kind that took so long."""
    return [
        Start(kind, number, 100.0 * number, None, took_s, "", "starts", "power_cycles", 30.0)
        for number, took_s in enumerate(times_s, 1)
    ]


def test_the_start_that_stands_out_is_named():
    """By hand: median 20, MAD 0.5; 35 s is z 0.6745 * 15 / 0.5 = 20.2 (NIST/SEMATECH 1.3.5.17)."""
    times_s = [19.5, 20.0, 20.5, 20.0, 35.0, 19.5, 20.5, 20.0, 20.5]
    [one] = outliers(started(times_s))
    assert (one["number"], one["took_s"], one["z"]) == (5, 35.0, pytest.approx(20.2))


@pytest.mark.parametrize("times_s", [[20.0] * 8 + [20.3], [20.0, 35.0, 20.0]])
def test_a_frame_late_or_too_few_starts_name_nobody(times_s):
    """A third of a second after an even row, or one of three, is no outlier (our own choice)."""
    assert outliers(started(times_s)) == []


def test_the_trend_is_that_of_the_published_example():
    """EPA QA/G-9S, the Mann-Kendall example with ties: S 22; Theil-Sen slope 1.0 (scipy)."""
    found = trend_of([10, 10, 10, 5, 10, 20, 18, 17, 15, 24, 15], 0.95)
    assert found["s"] == 22
    assert found["s_per_start"] == pytest.approx(1.0)
    assert found["chance"] == pytest.approx(0.0920, abs=5e-4)


def test_both_stand_in_the_detail_of_each_kind():
    """The finding tells outlier and trend by kind of start."""
    tried = [(start, False) for start in started([20.0] * 9 + [40.0])]
    [group] = strata(tried, 0.95)
    assert group.as_json()["outliers"][0]["number"] == 10
    assert group.as_json()["trend"]["s"] == 9


def test_breaks_without_effect_are_no_times_of_starts():
    """Of ten short breaks seven had no effect (0 s): three restarts of 20 s are no outliers."""
    tried = [(start, False) for start in started([0.0] * 7 + [20.0, 20.1, 20.2])]
    (group,) = strata(tried, 0.95)
    assert group.starts == 10
    assert (list(group.outliers), group.trend) == ([], None)
    knocked = started([0.0] * 7 + [20.0, 20.1, 20.2], kind="quick")
    assert usual_start_s(knocked, sheet_of({"start_s": 18.0})) == 18.0
