"""The quick ones of the ways to get a bad unit to ready, as they are typed.

All of them, also those that take processes, signals or real time: `benchmarks/liars.py`.
"""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

import liars
from lying.bench import by_main
from lying.ways import WAYS

QUICK = [way for way in WAYS if way.quick]


@pytest.fixture(scope="module")
def honest(tmp_path_factory):
    """Soak a good unit honestly; return what stands on its page anyway."""
    return liars.honestly(tmp_path_factory.mktemp("honest"), by_main)


@pytest.mark.parametrize("way", QUICK, ids=lambda way: way.name)
def test_no_bad_unit_comes_out_ready_unsaid(way, honest, tmp_path):
    """Whatever the operator does, the unit is not ready, or a buyer reads what was done or seen."""
    outcome = liars.tried(way, tmp_path / "bench", honest, by_main)
    assert not outcome.lost, outcome.broke
    assert not outcome.unqualified, outcome.ending


def test_a_qualified_ready_is_told_from_an_unqualified_one(honest):
    """A sentence of an honest page qualifies nothing; one that speaks of a failure does."""
    [way] = [one for one in WAYS if one.name.startswith("opens it after it failed, repairs what")]
    plain = liars.Ending(ready=True, grade="ready", code=0, text="0 breaks in the picture in 2 h")
    told = liars.Ending(ready=True, grade="ready", code=0, text="failed 3 times before this repair")
    assert liars.qualified(way, plain, honest) == ""
    assert liars.qualified(way, told, honest) == told.text
