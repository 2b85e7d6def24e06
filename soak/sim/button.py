"""The simulated presser of the unit's power button."""

from typing import Literal

import trio

from soak.clock import SoakClock
from soak.errors import BenchFault
from soak.frozen.wiring import ButtonWired
from soak.natures import Nature
from soak.records import Json
from soak.sim.played import played
from soak.sim.troubles import presser_troubles
from soak.sim.unit import SimulatedUnit


class ButtonSimulated(ButtonWired):
    """Settings of what presses the simulated unit's button."""

    driver: Literal["simulated"]


class SimulatedButton:
    """Presses the simulated unit's button, unless its adapter is lost as the scene says."""

    def __init__(self, name: str, clock: SoakClock, unit: SimulatedUnit) -> None:
        self._name = name
        self._clock = clock
        self._unit = unit
        self._troubles = presser_troubles(unit.scene, unit.seed)

    @property
    def identity(self) -> Json:
        """What it is."""
        return {"driver": "simulated", "nature": Nature.SIMULATED, "scene": self._unit.scene.name}

    async def press(self, held_s: float) -> None:
        await self.release()
        pressed_s = self._clock.now_s()
        await trio.sleep(held_s)
        self._unit.press(pressed_s, held_s)
        await self.release()

    async def release(self) -> None:
        await trio.sleep(0.02)
        now_s = self._clock.now_s()
        for trouble in self._troubles:
            if trouble.from_s <= now_s < trouble.until_s:
                raise BenchFault(self._name, trouble.why)

    async def aclose(self) -> None:
        pass


@played(ButtonSimulated)
def open_button(
    name: str, wired: ButtonSimulated, clock: SoakClock, unit: SimulatedUnit
) -> SimulatedButton:
    """Take the unit's button."""
    return SimulatedButton(name, clock, unit)
