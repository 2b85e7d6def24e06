"""Needs: /dev/fuse, loop devices and root. Soaks in real time of sticks that do something wrong.

The whole table is `benchmarks/stick_troubles.py`.
"""

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from stick_troubles import MEDIA, TROUBLES, Found, Trouble, soaked, why_not

pytestmark = pytest.mark.skipif(bool(why_not()), reason=why_not() or "-")

SOME = (
    ("one bit flipped", "folder"),
    ("a sector that cannot be read", "whole disk"),
    ("a sector that cannot be written", "folder"),
    ("read-only", "whole disk"),
    ("full", "folder"),
    ("a medium that takes nothing, so that its file system shuts itself", "ext4"),
)
"""Each stands for a kind."""


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Mapping[tuple[str, str], Found]:
    """Soak side by side: they mostly wait."""

    def play(row: tuple[str, str], folder: Path) -> Found:
        [trouble] = [one for one in TROUBLES if one.name == row[0]]
        return soaked(trouble, row[1], folder)

    folders = [tmp_path_factory.mktemp("stick") for _ in SOME]
    with ThreadPoolExecutor(len(SOME)) as threads:
        return dict(zip(SOME, threads.map(play, SOME, folders), strict=True))


@pytest.mark.parametrize("row", SOME, ids=" / ".join)
def test_what_is_found_is_what_the_stick_did(
    found: Mapping[tuple[str, str], Found], row: tuple[str, str]
) -> None:
    """Verdict, kind, number of places, address and reason of the system are those of the stick."""
    if found[row].wrong and not found[row].as_told:
        pytest.skip("this machine was too busy to play the stick in time")
    assert found[row].wrong == [], found[row].said


def test_a_stick_that_takes_no_more_data_is_told_while_the_soak_runs(
    found: Mapping[tuple[str, str], Found],
) -> None:
    """On screen it is the stick's, and no fault of the bench."""
    said = found["read-only", "whole disk"].said
    assert "stick: it can no longer be written: it has become read-only" in said
    assert "bench fault" not in said


def test_every_kind_of_medium_stands_in_the_table() -> None:
    """Each trouble has a name of its own, and is tried on a folder or a whole disk or both."""
    assert len({one.name for one in TROUBLES}) == len(TROUBLES)
    for trouble in TROUBLES:
        assert isinstance(trouble, Trouble)
        assert set(trouble.media) <= set(MEDIA)
