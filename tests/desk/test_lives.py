"""The table of lives: told in words and as data, mistakes in one sentence."""

import json
from pathlib import Path

import pytest

from soak.desk.lives import lives
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
