"""The simulated switch: a relay between the mains adapter and the unit."""

from typing import Any, Literal

import trio
from pydantic import Field

from soak.bench.wiring import SwitchWired
from soak.clock import SoakClock
from soak.errors import BenchFault
from soak.records import Json
from soak.settings import Seconds
from soak.sim.troubles import relay_fails_s
from soak.sim.unit import SimulatedUnit


class SwitchSimulated(SwitchWired):
    """Settings of the simulated switch; it answers after `answers_s` s."""

    driver: Literal["simulated"]
    answers_s: Seconds = Field(default=0.02, ge=0, le=10)


class SimulatedSwitch:
    """Switches the simulated unit; its relay may fail as the scene says."""

    def __init__(
        self, name: str, wired: SwitchSimulated, clock: SoakClock, unit: SimulatedUnit
    ) -> None:
        self._name, self._wired, self._clock, self._unit = name, wired, clock, unit
        self._fails_s = relay_fails_s(unit.scene, unit.seed)

    @property
    def identity(self) -> Json:
        """What it is."""
        return {"driver": "simulated", "scene": self._unit.scene.name}

    async def command(self, channel: str, on: bool) -> None:
        if channel != self._wired.channel:
            raise BenchFault(self._name, f"has no channel {channel!r}, only {self._wired.channel}")
        await trio.sleep(self._wired.answers_s)
        fault = self._fault()
        if fault == "mute":
            raise BenchFault(self._name, "did not answer; look at its cable and supply")
        if not (fault == "welded" and not on) and not (fault == "open" and on):
            self._unit.power(self._clock.now_s(), on)

    async def aclose(self) -> None:
        pass

    def _fault(self) -> Any:
        relay = self._unit.scene.bench.relay
        return relay.fault if relay and self._clock.now_s() >= self._fails_s else ""
