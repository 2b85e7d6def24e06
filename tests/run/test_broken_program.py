"""Where the program itself breaks, the unit is off all the same."""

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))
from small_bench import Faults, World, run_small_soak

from soak.records import Mark


@pytest.mark.parametrize("breaks_at_s", [0.5, 25.0, 70.0, 200.0, 400.0])
def test_a_watcher_that_breaks_leaves_the_unit_off(breaks_at_s):
    """A screen that raises for ever from some time on: the relay's last word is off."""
    world = World(Faults())

    def breaks(record: object) -> None:
        if isinstance(record, Mark) and record.t_s > breaks_at_s:
            raise RuntimeError("the screen broke")

    with pytest.raises(BaseExceptionGroup) as caught:
        run_small_soak(Faults(), listener=breaks, told=world)
    assert caught.value.subgroup(RuntimeError) is not None
    assert world.told[-1][1] is False
    assert not world.is_on
