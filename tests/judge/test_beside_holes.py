"""Losses of a unit beside holes of the bench; ten thousand nights: `benchmarks/beside_holes.py`."""

from collections.abc import Sequence

import pytest
from holed_nights import Outcome, judged

NIGHTS = 200


@pytest.fixture(scope="module")
def outcomes() -> Sequence[Outcome]:
    return [judged(number) for number in range(NIGHTS)]


def test_no_loss_beside_a_hole_is_given_to_the_wrong_one(outcomes: Sequence[Outcome]) -> None:
    """No good unit is charged, and none is ready with a forbidden loss that was seen."""
    assert {one.night.number: one.wrong for one in outcomes if one.wrong} == {}


def test_the_nights_hold_good_units_and_losses_seen_and_in_doubt(
    outcomes: Sequence[Outcome],
) -> None:
    """Each kind of night is there often enough that a judge can be wrong about it."""
    nights = [one.night for one in outcomes]
    assert sum(not one.losses for one in nights) > NIGHTS / 4
    assert sum(bool(one.seen()) for one in nights) > NIGHTS / 4
    assert sum(bool(one.losses) and not one.seen() for one in nights) > NIGHTS / 20


def test_good_units_become_ready_all_the_same(outcomes: Sequence[Outcome]) -> None:
    """A demand that allows such holes is met by three in four good units."""
    good = [one for one in outcomes if not one.night.losses]
    assert sum(one.judgement.ready for one in good) > 0.75 * len(good)
