"""The simulated switch: a relay between the mains adapter and the unit, or a supply that is set."""

from typing import Literal

import trio
from pydantic import Field

from soak.clock import SoakClock
from soak.errors import BenchFault
from soak.frozen.wiring import SettableSwitch, refuse_outside
from soak.natures import Nature
from soak.records import Json
from soak.settings import Seconds
from soak.sim.chance import stream
from soak.sim.played import played
from soak.sim.troubles import relay_fails_s
from soak.sim.unit import SimulatedUnit


class SwitchSimulated(SettableSwitch):
    """Settings of the simulated switch; it answers after `answers_s` s.

    Attributes
    ----------
    answers_s : float
        So long after a command it answers, s.
    """

    driver: Literal["simulated"]
    answers_s: Seconds = Field(default=0.02, ge=0, le=10)


class SimulatedSwitch:
    """Switches the simulated unit; its relay may fail as the scene says."""

    def __init__(
        self, name: str, wired: SwitchSimulated, clock: SoakClock, unit: SimulatedUnit
    ) -> None:
        self._name = name
        self._wired = wired
        self._clock = clock
        self._unit = unit
        self._fails_s = relay_fails_s(unit.scene, unit.seed)
        self._ons = 0

    @property
    def identity(self) -> Json:
        """What it is."""
        return {"driver": "simulated", "nature": Nature.SIMULATED, "scene": self._unit.scene.name}

    async def command(self, channel: str, on: bool) -> None:
        if channel != self._wired.channel:
            raise BenchFault(self._name, f"has no channel {channel!r}, only {self._wired.channel}")
        await trio.sleep(self._wired.answers_s)
        self._ons += on
        fault = self._fault()
        if fault == "mute":
            raise BenchFault(self._name, "did not answer; look at its cable and supply")
        if not (fault == "welded" and not on) and not (fault == "open" and on):
            self._unit.power(self._clock.now_s(), on)

    async def asked_on(self, channel: str) -> bool:
        """Say whether the unit has power."""
        await trio.sleep(self._wired.answers_s)
        return self._unit.powered

    async def aclose(self) -> None:
        """Let go; the unit stays as it is."""

    def _fault(self) -> str:
        relay = self._unit.scene.bench.relay
        if relay is None or self._clock.now_s() < self._fails_s or self._ons < relay.from_on:
            return ""
        over = relay.times and self._ons >= relay.from_on + relay.times
        return "" if over else relay.fault


class SimulatedSupply(SimulatedSwitch):
    """A supply that can be set; its voltage errs by at most half its stated accuracy."""

    def __init__(
        self, name: str, wired: SwitchSimulated, clock: SoakClock, unit: SimulatedUnit
    ) -> None:
        super().__init__(name, wired, clock, unit)
        assert wired.rated is not None
        self._rated = wired.rated
        half_v = 0.5 * wired.accuracy_v
        self._error_v = float(stream(unit.seed, "supply").uniform(-half_v, half_v))

    @property
    def nominal_v(self) -> float:
        return self._rated.nominal_v

    @property
    def highest_v(self) -> float:
        return self._rated.highest_v

    @property
    def accuracy_v(self) -> float:
        return self._wired.accuracy_v

    async def set_voltage(self, channel: str, volt: float) -> float:
        refuse_outside(self._name, self._rated, volt)
        await self._answers()
        self._unit.supply_v = volt + self._error_v
        return volt

    async def fed_v(self, channel: str) -> float:
        await self._answers()
        return round(self._unit.supply_v, 3) if self._unit.powered else 0.0

    async def interrupt(self, channel: str, for_s: float) -> float:
        await self._answers()
        begun_s = self._clock.now_s()
        self._unit.power(begun_s, False)
        await trio.sleep_until(begun_s + for_s)
        self._unit.power(self._clock.now_s(), True)
        return self._clock.now_s() - begun_s

    async def _answers(self) -> None:
        await trio.sleep(self._wired.answers_s)
        if self._fault() == "mute":
            raise BenchFault(self._name, "did not answer; look at its cable and supply")


@played(SwitchSimulated)
def open_switch(
    name: str, wired: SwitchSimulated, clock: SoakClock, unit: SimulatedUnit
) -> SimulatedSwitch:
    """Take the unit's switch."""
    kind = SimulatedSwitch if wired.rated is None else SimulatedSupply
    return kind(name, wired, clock, unit)
