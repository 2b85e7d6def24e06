"""What is really wrong with a unit and what its soak comes to are the same thing, on many seeds."""

import pytest

from soak.desk.demo.demo import PLAYERS, prepare_night, soak_simulated
from soak.desk.demo.table import row_of, table
from soak.desk.soaking.grading import grade_job
from soak.sim.scene import read_scene

SEEDS = range(1, 15)
GOOD = ("K1", "K7")


def night_of(seed, folder):
    """Soak all players for a night; return the demo's rows."""
    night = prepare_night(seed, folder)
    assert {soak_simulated(one) for one in night.overnight} <= {"complete", "stopped"}
    graded = [grade_job(night.bench, night.ledger, one.folder) for one in night.overnight]
    return [
        row_of(player.tag, read_scene(player.scene), one)
        for player, one in zip(PLAYERS, graded, strict=True)
    ]


@pytest.mark.parametrize("seed", SEEDS)
def test_truth_and_grade_agree_whatever_the_dice_say(seed, tmp_path):
    """Each unit's grade is the one its scene must come to.

    A good one is never told to be mended, whatever its bench does; what failed has a time at
    which it was first seen; no line of the table is wider than 120 columns.
    """
    rows = night_of(seed, tmp_path)
    wrong = [
        (row.tag, row.truth, row.grade, row.reason)
        for row, player in zip(rows, PLAYERS, strict=True)
        if row.grade not in (row.truth_grade, *read_scene(player.scene).also_right)
    ]
    assert wrong == []
    called = [row for row in rows if row.tag in GOOD]
    assert [row for row in called if row.grade == "not ready: failed"] == []
    faulty = [row for row in rows if row.tag not in GOOD]
    assert [row for row in faulty if row.first == "none"] == []
    assert max(len(line) for line in table(rows).splitlines()) <= 120


def test_the_good_players_are_those_with_nothing_wrong():
    """Whom this file calls good has a scene without a fault, and nobody else has."""
    assert tuple(one.tag for one in PLAYERS if read_scene(one.scene).fault == "none") == GOOD
