"""The simulated probe: temperature at a spot, or the unit's supply, with error and noise."""

from collections.abc import AsyncIterator
from typing import Literal

import numpy as np
import trio
from numpy.typing import NDArray
from pydantic import Field

from soak.clock import SoakClock
from soak.errors import BenchFault
from soak.frozen.wiring import ProbeWired
from soak.marks import StateSaid, state_of
from soak.natures import Nature
from soak.records import Json, Reading, State
from soak.settings import Seconds
from soak.sim.chance import stream
from soak.sim.played import played
from soak.sim.troubles import Trouble, probe_falls_off_s, probe_garbles, probe_troubles
from soak.sim.unit import SimulatedUnit
from soak.states import BLIND

TIP_S = 20.0
"""Time constant in still air of a thermometer's tip that hangs free, s: an invention of ours."""
BLOCK = 4096
"""Noise is drawn for so many readings at once."""

_RESOLUTION = {"degC": 0.1, "V": 0.01, "A": 0.001, "W": 0.01}
_NOISE = {"degC": 0.08, "V": 0.01, "A": 0.004, "W": 0.05}


class ProbeSimulated(ProbeWired):
    """Settings of the simulated probe: a reading every `every_s` s of soak time.

    Attributes
    ----------
    every_s : float
        From one reading to the next, s.
    """

    driver: Literal["simulated"]
    every_s: Seconds = Field(default=5.0, ge=0.1, le=3600)


class SimulatedProbe:
    """Measures one quantity of the simulated unit.

    Its error is constant through a soak and at most half the stated accuracy; noise comes on top.
    """

    def __init__(
        self, name: str, wired: ProbeSimulated, clock: SoakClock, unit: SimulatedUnit
    ) -> None:
        self._name = name
        self._wired = wired
        self._clock = clock
        self._unit = unit
        self._troubles = probe_troubles(unit.scene, unit.seed, name)
        self._off_s = probe_falls_off_s(unit.scene, unit.seed, name)
        self._garbled_s, garbled = probe_garbles(unit.scene, unit.seed, name)
        self._garbled = iter(garbled)
        self._resolution = wired.resolution or _RESOLUTION[wired.unit]
        half = 0.5 * (wired.accuracy or 0.0)
        self._error = float(stream(unit.seed, f"error.{name}").uniform(-half, half))
        self._block = -1
        self._noise: NDArray[np.float64] = np.empty(0)

    @property
    def identity(self) -> Json:
        """What it is."""
        return {"driver": "simulated", "nature": Nature.SIMULATED, "scene": self._unit.scene.name}

    async def readings(self) -> AsyncIterator[Reading | State]:
        every_s = self._wired.every_s
        yield State(self._clock.now_s(), self._name, "seen")
        while True:
            now_s = self._clock.now_s()
            trouble = self._trouble(now_s)
            if trouble is not None:
                await trio.sleep_until(trouble.from_s + self._wired.silent_after_s)
                blind_s = self._wired.silent_after_s
                said = StateSaid(why=trouble.why)
                yield state_of(self._clock.now_s(), self._name, BLIND, said, within_s=blind_s)
                await trio.sleep_until(trouble.until_s)
                yield State(self._clock.now_s(), self._name, "seen")
                continue
            number = int(now_s // every_s)
            garbled = next(self._garbled, None) if now_s >= self._garbled_s else None
            right = self._indication(now_s, number)
            yield Reading(now_s, self._name, right if garbled is None else garbled)
            await self._unit.wakes.until((number + 1) * every_s, self._clock.now_s)

    async def aclose(self) -> None:
        pass

    def _trouble(self, t_s: float) -> Trouble | None:
        return next((t for t in self._troubles if t.from_s <= t_s < t.until_s), None)

    def _indication(self, t_s: float, number: int) -> float:
        block, index = divmod(number, BLOCK)
        if block != self._block:
            self._block = block
            chance = stream(self._unit.seed, f"noise.{self._name}", block)
            self._noise = chance.normal(0.0, _NOISE[self._wired.unit], BLOCK)
        true = self._true(t_s)
        if self._wired.unit != "degC" and true == 0.0:
            return 0.0  # nothing flows: such meters show a clean zero
        noisy = true + self._error + float(self._noise[index])
        return round(round(noisy / self._resolution) * self._resolution, 9)

    def _true(self, t_s: float) -> float:
        unit = self._unit
        volt = self._unit.supply_v if self._unit.powered else 0.0
        if self._wired.at_port:
            volt = unit.port_v()
            return {"V": volt, "A": unit.drawn_a}.get(self._wired.unit, volt * unit.drawn_a)
        if self._wired.unit == "degC":
            return self._felt_degc(t_s)
        return {"A": unit.current_a(t_s), "V": volt, "W": volt * unit.current_a(t_s)}[
            self._wired.unit
        ]

    def _felt_degc(self, t_s: float) -> float:
        """Return what the probe's own tip has: its spot, or the air once it came off."""
        spot = self._wired.spot
        off_s = self._off_s
        if t_s < off_s:
            return self._unit.temperature_degc(spot, t_s)
        room_degc = self._unit.room_degc(t_s)
        left_k = self._unit.temperature_degc(spot, off_s) - self._unit.room_degc(off_s)
        return room_degc + left_k * float(np.exp(-(t_s - off_s) / TIP_S))


def check_spot(name: str, wired: ProbeSimulated, unit: SimulatedUnit) -> None:
    """Check that the scene says how the probe's spot heats.

    Raises
    ------
    BenchFault
        If it does not.
    """
    known = ("ambient", *unit.scene.spots)
    if wired.unit == "degC" and wired.spot not in known:
        listed = ", ".join(known)
        what = f"the scene {unit.scene.name} has no spot {wired.spot!r}; its spots are {listed}"
        raise BenchFault(name, what)


@played(ProbeSimulated)
def open_probe(
    name: str, wired: ProbeSimulated, clock: SoakClock, unit: SimulatedUnit
) -> SimulatedProbe:
    """Take the unit's probe."""
    check_spot(name, wired, unit)
    return SimulatedProbe(name, wired, clock, unit)
