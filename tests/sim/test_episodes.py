"""Chance faults of the simulation come as often, and in bouts as large, as a scene says."""

from itertools import pairwise

import numpy as np
import pytest

from soak.sim.chance import stream
from soak.sim.episodes import When, episodes

HOUR_S = 3600.0


def cool(spot, t_s):
    return np.full(len(t_s), 20.0)


@pytest.mark.parametrize("size", [1.0, 2.0, 5.0])
def test_faults_come_in_bouts_of_the_mean_size_that_is_asked_for(size):
    """2000 h at one bout an hour hold 2000 bouts (Poisson: 45 either way), each so large."""
    when = When(per_hour=1.0, lasts_s=(0.5, 1.0), bout_of=size, apart_s=5.0)
    found = episodes(when, stream(3, "contact"), 0.0, 2000 * HOUR_S, cool)
    begins_s = np.array([from_s for from_s, _ in found])
    bouts = 1 + int((np.diff(begins_s) > 120.0).sum())  # 3 % of the bouts follow sooner
    assert bouts == pytest.approx(2000 * np.exp(-120 / HOUR_S), rel=0.08)
    assert len(found) / 2000 == pytest.approx(size, rel=0.1)


def test_a_scene_without_bouts_is_drawn_as_ever():
    """The first faults of its bouts are those of a scene whose faults come one by one."""
    alone = When(per_hour=3.0)
    single = episodes(alone, stream(3, "contact"), 0.0, 20 * HOUR_S, cool)
    bouts = alone.model_copy(update={"bout_of": 5.0, "apart_s": 0.5})
    more = episodes(bouts, stream(3, "contact"), 0.0, 20 * HOUR_S, cool)
    assert all(any(b[0] <= one[0] <= b[1] for b in more) for one in single)
    assert len(more) > len(single)
    assert all(a[1] < b[0] for a, b in pairwise(more))
