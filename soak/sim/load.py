"""The simulated load at a port of the unit."""

from typing import Literal

import trio

from soak.clock import SoakClock
from soak.frozen.wiring import LoadWired
from soak.natures import Nature
from soak.records import Json
from soak.sim.played import played
from soak.sim.unit import SimulatedUnit


class LoadSimulated(LoadWired):
    """Settings of the simulated load."""

    driver: Literal["simulated"]


class SimulatedLoad:
    """Draws its current from the simulated unit's port while it is on."""

    def __init__(self, wired: LoadSimulated, unit: SimulatedUnit) -> None:
        self._wired = wired
        self._unit = unit

    @property
    def identity(self) -> Json:
        """What it is."""
        return {"driver": "simulated", "nature": Nature.SIMULATED, "scene": self._unit.scene.name}

    async def command(self, on: bool) -> None:
        await trio.sleep(0.02)
        self._unit.drawn_a = self._wired.current_a if on else 0.0

    async def aclose(self) -> None:
        self._unit.drawn_a = 0.0


@played(LoadSimulated)
def open_load(
    name: str, wired: LoadSimulated, clock: SoakClock, unit: SimulatedUnit
) -> SimulatedLoad:
    """Take the unit's port."""
    return SimulatedLoad(wired, unit)
