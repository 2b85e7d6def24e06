"""The table of lives: told in words and as data, mistakes in one sentence."""

import json
from pathlib import Path

import numpy as np
import pytest

from soak.desk.forecast.lives import lives
from soak.desk.forecast.soak_length import length
from soak.errors import UsageError

LUNG = Path(__file__).parents[1] / "data" / "life" / "lung.csv"
ARMS = """\
unit,hours,failed,group
{rows}
"""


def arms():
    """Return the remission data of Freireich et al. 1963, two groups, as a table."""
    treated = [(t, 1) for t in (6, 6, 6, 7, 10, 13, 16, 22, 23)]
    treated += [(t, 0) for t in (6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35)]
    plain = [
        (t, 1) for t in (1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23)
    ]
    named = [(name, row) for name, rows in (("6-MP", treated), ("plain", plain)) for row in rows]
    return ARMS.format(
        rows="\n".join(f"{at},{t},{bad},{n}" for at, (n, (t, bad)) in enumerate(named))
    )


def test_the_lung_study_has_its_published_median():
    """NCCTG lung study: median 310, 165 of 228; lifelines 0.30.3 fits 1.31684, 417.759."""
    found = json.loads(lives(str(LUNG), as_json=True))
    assert (found["units"], found["failed"], found["median_h"]) == (228, 165, 310)
    assert found["weibull"]["shape"] == pytest.approx(1.31684, rel=1e-4)
    assert found["weibull"]["scale_h"] == pytest.approx(417.759, rel=1e-4)


def test_two_groups_are_compared_by_log_rank(tmp_path):
    """Freireich et al. 1963: 16.793."""
    file = tmp_path / "arms.csv"
    file.write_text(arms())
    assert "6-MP against plain: log-rank 16.793" in lives(str(file), as_json=False)


def test_too_few_failures_give_a_curve_and_no_fit(tmp_path):
    """Two of three failed: the curve is told, and why there is no fit."""
    file = tmp_path / "few.csv"
    file.write_text("unit,hours,failed\nA,10,1\nA,20,0\nB,5,1\nC,30,0\n")
    told = lives(str(file), as_json=False)
    assert "2 of 3 units failed" in told
    assert "too few to fit" in told


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "has no column unit"),
        ("unit,hours\nA,3\n", "has no column failed"),
        ("unit,hours,failed\nA,three,1\n", "line 2: hours 'three' is no number"),
        ("unit,hours,failed\nA,3,yes\n", "write 1 where it failed"),
        ("unit,hours,failed\nA,3,0\n", "nothing failed"),
        ("unit,hours,failed\nA,-3,1\n", "positive"),
        ("unit,hours,failed\nA,nan,1\n", "positive"),
        ("unit,hours,failed,entry\nA,30,1,x\n", "line 2: entry 'x' is no number"),
        ("unit,hours,failed,entry\nA,30,1,-1\n", "line 2: entry is a number from 0 up"),
        ("unit,hours,failed,entry\nA,30,1,30\n", "unit A: came under watch at 30 h"),
        ("unit,hours,failed,entry\nA,30,1,8\nA,40,0,9\n", "line 3: entry is 9 h here and 8 h"),
    ],
)
def test_a_mistake_in_the_table_is_one_sentence(tmp_path, text, says):
    """File, line and what to write."""
    file = tmp_path / "lives.csv"
    file.write_text(text)
    with pytest.raises(UsageError) as refused:
        lives(str(file), as_json=True)
    assert says in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_table_that_is_not_there_is_named():
    """The path and the reason."""
    with pytest.raises(UsageError, match="cannot be read"):
        lives("nowhere.csv", as_json=True)


COSTS = (0.07, 3.0, 500.0)


def sold(path, number, *, entry="8", shape=0.65, seed=2):
    """Write a table of sold units: soaked for 8 h, then watched for up to 3000 h at the buyer's."""
    draw = np.random.default_rng(seed)
    ages, ends = 5000.0 * draw.weibull(shape, number), 8 + draw.uniform(200, 3000, number)
    rows = ["unit,hours,failed,entry"]
    for at, (age, end) in enumerate(zip(ages, ends, strict=True)):
        if age > 8:
            rows.append(f"U{at},{min(age, end):.3f},{int(age <= end)},{entry}")
    path.write_text("\n".join(rows) + "\n")
    return str(path)


def test_the_age_at_entry_changes_the_shape_and_is_told(tmp_path):
    """Of sold units that passed 8 h: with the column the truth .65 lies in the told bounds."""
    table = sold(tmp_path / "sold.csv", 400)
    found = json.loads(lives(table, as_json=True))
    low, high = found["weibull"]["shape_bounds"]
    assert low < 0.65 < high
    blind = json.loads(lives(sold(tmp_path / "blind.csv", 400, entry=""), as_json=True))
    assert blind["weibull"]["shape"] > found["weibull"]["shape"]
    assert "add a column entry" in blind["entries"]


def test_curve_and_fit_are_told_with_their_bounds(tmp_path):
    """Each line has share, standard error and bounds, and the same of the fit."""
    table = sold(tmp_path / "sold.csv", 400)
    told = lives(table, as_json=False)
    found = json.loads(lives(table, as_json=True))
    assert "of those that work at 8 h" in told
    assert "standard error (Greenwood), and bounds at 90 %" in told
    assert told.count("; by the fit ") == len(found["weibull"]["survival"]["hours"])
    curve = found["survival"]
    for low, share, high in zip(
        curve["bound_low"], curve["share"], curve["bound_high"], strict=True
    ):
        assert low <= share <= high


def test_the_chance_to_come_back_in_a_window_is_told_with_an_interval(tmp_path):
    """Truth by shape .65 and scale 5000: 11.9 % of those that work at 8 h fail in 240 h more."""
    table = sold(tmp_path / "sold.csv", 400)
    found = json.loads(lives(table, age="8 h", window="240 h", as_json=True))["window"]
    for low, high in (found["bounds"], found["bounds_by_fit"]):
        assert low < 0.119 < high
    told = lives(table, age="8", window="240", as_json=False)
    assert "A unit that works at 8 h fails within 240 h more in" in told


@pytest.mark.parametrize(
    ("age", "window", "says"),
    [("8", "", "both"), ("4", "9", "from the age of 4 h"), ("8", "99999", "to the age of 100007")],
)
def test_a_window_nobody_watched_is_refused_in_a_sentence(tmp_path, age, window, says):
    """One of the two missing, before the soak's end, or beyond all the table holds."""
    with pytest.raises(UsageError, match=says):
        lives(sold(tmp_path / "sold.csv", 400), age=age, window=window, as_json=False)


def test_the_advised_length_stands_with_its_interval(tmp_path):
    """By the costs of the worked example; the cheapest for the true life is 183 h."""
    table = sold(tmp_path / "sold.csv", 400)
    found = json.loads(length(table, None, "", "700", COSTS, as_json=True))
    assert found["bound_low_h"] < 183 < found["bound_high_h"]
    assert found["failures"] >= 20
    told = length(table, None, "", "700", COSTS, as_json=False)
    assert "at 90 % confidence" in told
    assert "Ages at entry as the table says." in told


def test_no_length_is_advised_from_a_dozen_units(tmp_path):
    """Below twenty failures the advice would be a guess: refused, with the number."""
    with pytest.raises(UsageError, match=r"too few to advise a length; 20 at least"):
        length(sold(tmp_path / "few.csv", 30), None, "", "700", COSTS, as_json=False)


@pytest.mark.parametrize(
    ("table", "shape", "scale", "warranty", "costs", "says"),
    [
        ("t.csv", 0.8, "5000", "700", COSTS, "either --lives"),
        ("", None, "", "700", COSTS, "either --lives"),
        ("", 0.8, "", "700", COSTS, "both --shape and --scale"),
        ("", 0.8, "5000", "0", COSTS, "above 0"),
        ("", 0.8, "5000", "700", (0.07, -3, 500), "costs are numbers"),
        ("", float("nan"), "5000", "700", COSTS, "positive"),
    ],
)
def test_figures_that_cannot_be_get_one_sentence(table, shape, scale, warranty, costs, says):
    """Both ways at once, half of one, or an impossible number."""
    with pytest.raises(UsageError, match=says):
        length(table, shape, scale, warranty, costs, as_json=False)


def test_typed_shape_and_scale_give_the_worked_example_and_no_interval():
    """The published example of `test_life.py`, 46.9 h, and that both are taken as known."""
    found = json.loads(length("", 0.8, "5000", "700", COSTS, as_json=True))
    assert found["length_h"] == pytest.approx(46.948, abs=0.05)
    assert "no interval" in length("", 0.8, "5000", "700", COSTS, as_json=False)
