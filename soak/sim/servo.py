"""The simulated servo: it moves the simulated plug in place of a hand."""

from collections.abc import Sequence
from typing import Literal, get_args

import trio

from soak.clock import SoakClock
from soak.errors import BenchFault
from soak.frozen.wiring import ServoWired
from soak.natures import Nature
from soak.records import Json
from soak.roles import Movement
from soak.sim.played import played
from soak.sim.troubles import servo_troubles
from soak.sim.unit import SimulatedUnit


class ServoSimulated(ServoWired):
    """Settings of the simulated servo.

    Attributes
    ----------
    movements : sequence of str
        Those that it can make.
    """

    driver: Literal["simulated"]
    movements: Sequence[Movement] = get_args(Movement)


class SimulatedServo:
    """Moves the simulated unit's plug, unless its adapter is lost as the scene says."""

    def __init__(
        self, name: str, wired: ServoSimulated, clock: SoakClock, unit: SimulatedUnit
    ) -> None:
        self._name = name
        self._wired = wired
        self._clock = clock
        self._unit = unit
        self._troubles = servo_troubles(unit.scene, unit.seed)

    @property
    def identity(self) -> Json:
        """What it is."""
        return {"driver": "simulated", "nature": Nature.SIMULATED, "scene": self._unit.scene.name}

    async def move(self, movement: Movement, lasts_s: float) -> None:
        if movement not in self._wired.movements:
            raise BenchFault(self._name, f"has no position for {movement!r} in its fixture")
        await self.rest()
        now_s = self._clock.now_s()
        self._unit.move_plug(self._wired.at_port, now_s, lasts_s, movement)
        await trio.sleep(lasts_s)
        await self.rest()

    async def rest(self) -> None:
        await trio.sleep(0.02)
        now_s = self._clock.now_s()
        for trouble in self._troubles:
            if trouble.from_s <= now_s < trouble.until_s:
                raise BenchFault(self._name, trouble.why)

    async def aclose(self) -> None:
        pass


@played(ServoSimulated)
def open_servo(
    name: str, wired: ServoSimulated, clock: SoakClock, unit: SimulatedUnit
) -> SimulatedServo:
    """Take the unit's servo."""
    return SimulatedServo(name, wired, clock, unit)
