"""Whole soaks in real time that are interrupted, and that are killed at random.

The whole table is `benchmarks/interruptions.py`, the whole number of kills `benchmarks/kills.py`.
"""

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor

import fuse_kernel
import pytest
from interrupted_row import by_process
from interrupted_soak import Outcome
from interruption_table import ROWS
from random_kills import KILLED, STARTS_OVER, drawn

SHORT = (
    "all stopped, long",
    "all stopped, black soon after",
    "runner killed, black after the resume",
    "guard killed, then the runner",
    "one garbled reading over the limit",
)
"""Each stands for a kind: none of them takes longer than the soak itself by much."""
KILLS = (3,)
"""A good unit."""


@pytest.fixture(scope="module")
def played() -> Mapping[str, Outcome]:
    """Play the rows side by side: they mostly wait."""
    rows = [*(row for row in ROWS if row.name in SHORT), *map(drawn, KILLS)]
    with ThreadPoolExecutor(len(rows)) as threads:
        return {one.row.name: one for one in threads.map(by_process, rows)}


@pytest.mark.parametrize("name", SHORT)
def test_what_comes_of_an_interruption_is_what_was_done(
    played: Mapping[str, Outcome], name: str
) -> None:
    """Grade, reason, losses and holes are those of the unit that was played."""
    outcome = played[name]
    if outcome.wrong and outcome.slow:
        pytest.skip("this machine was too busy to play the unit in time")
    assert outcome.wrong == [], outcome.told


@pytest.mark.parametrize("number", KILLS)
def test_after_kills_and_resumes_the_grade_is_what_the_unit_is(
    played: Mapping[str, Outcome], number: int
) -> None:
    """Nothing is not shown because of a resume but what holds for one unbroken run."""
    outcome = played[f"{KILLED}{number}"]
    if outcome.slow and (outcome.wrong or outcome.not_shown):
        pytest.skip("this machine was too busy to play the unit in time")
    assert outcome.wrong == [], outcome.told
    assert set(outcome.not_shown) <= set(STARTS_OVER), outcome.told


def test_the_table_holds_what_it_is_to_hold() -> None:
    """Forty rows or more, each by a name of its own, and the steps that they speak of are there."""
    assert len({row.name for row in ROWS}) == len(ROWS) >= 40
    for row in ROWS:
        spoken = {number for _, number in row.charged or ()} | {*row.listed, *row.either}
        assert spoken <= set(range(len(row.steps)))
        moments = [moment for _, *both in (*row.holes, *row.may) for moment in both]
        numbers = [moment.split(" ")[0][:-1] for moment in moments if moment[1:2] in "<>"]
        assert {int(number) for number in numbers if number} <= set(range(len(row.steps)))


@pytest.mark.skipif(bool(fuse_kernel.why_not()), reason=fuse_kernel.why_not() or "-")
def test_the_unit_is_played_with_a_stick(played: Mapping[str, Outcome]) -> None:
    """Where a file system can be mounted a stick is part of each row."""
    assert all("the stick is" in outcome.told for outcome in played.values())
