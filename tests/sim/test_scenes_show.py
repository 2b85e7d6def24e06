"""What a night of starts, cold starts and hot hours brings out of each scene, without a bench."""

import numpy as np
import pytest

from soak.sim.scene import read_scene
from soak.sim.unit import Mode, SimulatedUnit

SEEDS = range(20)
ATTENDED_S, HOT_S = 600.0, 4 * 3600.0


class Night:
    """One unit through ten minutes on, sixty warm starts, three cold ones and four hours."""

    def __init__(self, scene: str, seed: int) -> None:
        self.unit = SimulatedUnit(read_scene(scene), seed)
        self.t_s, self.failed_starts = 0.0, 0
        self._on(ATTENDED_S)
        for _ in range(60):
            self._off(30.0)
            self._on(60.0)
        for _ in range(3):
            self._off(1800.0)
            self._on(900.0)
        self.hot_from_s = self.t_s
        self.t_s += HOT_S

    def _on(self, lasts_s: float) -> None:
        self.unit.power(self.t_s, True)
        modes: list[Mode] = [mode for _, mode in self.unit.modes.since(self.t_s)]
        self.failed_starts += "running" not in modes
        self.t_s += lasts_s

    def _off(self, lasts_s: float) -> None:
        self.unit.power(self.t_s, False)
        self.t_s += lasts_s

    def losses(self) -> int:
        """Count the changes of picture in the hot hours: away from it and back."""
        return len(self.unit.looks.changes_s(self.hot_from_s, self.t_s))

    def hottest_degc(self, spot: str) -> float:
        """Return the highest temperature at a spot in the hot hours."""
        times_s = np.arange(self.hot_from_s, self.t_s, 60.0)
        return float(self.unit.temperatures_degc(spot, times_s).max())

    def damages(self) -> bool:
        """Say whether data would have come damaged at some time of the hot hours."""
        return self.unit.damaged(self.hot_from_s, self.t_s)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_good_unit_shows_nothing_all_night(seed: int) -> None:
    """Every start works, the picture stays, data is right, spots lie under the model's limits."""
    night = Night("good", seed)
    assert (night.failed_starts, night.losses(), night.damages()) == (0, 0, False)
    assert night.hottest_degc("heatsink") < 70.0
    assert night.hottest_degc("outside") < 50.0


@pytest.mark.parametrize("seed", SEEDS)
def test_each_fault_shows_in_a_night_on_any_seed(seed: int) -> None:
    """What a scene says is wrong comes out in its night, so that truth and grade can agree."""
    assert Night("video_drops_when_hot", seed).losses() >= 2
    assert Night("service_port_loses_data", seed).damages()
    assert Night("came_back", seed).damages()
    assert Night("fails_cold_starts", seed).failed_starts >= 1
    assert Night("restarts_at_night", seed).losses() >= 3
    assert Night("hangs", seed).losses() == 1
    assert Night("overheats", seed).hottest_degc("heatsink") > 82.0  # limit 80, accuracy 1
    assert Night("fan_dies", seed).hottest_degc("heatsink") > 91.5  # trip 90
    speed = Night("speed_falls_back", seed)
    assert not speed.unit.fallen(speed.hot_from_s + 300.0)
    assert speed.unit.fallen(speed.hot_from_s + HOT_S / 2)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_bench_fault_leaves_the_unit_good(seed: int) -> None:
    """The scenes of a faulty bench hold a unit with nothing wrong."""
    for scene in ("good_adapter_vanishes", "card_wedges", "probe_falls_silent"):
        night = Night(scene, seed)
        assert (night.failed_starts, night.losses(), night.damages()) == (0, 0, False)
