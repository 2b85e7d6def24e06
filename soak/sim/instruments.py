"""The simulated drivers of one scene; all of them share one unit."""

from collections.abc import Awaitable, Callable
from typing import Literal, TypeVar

import trio

from soak.bench.fixture import SIMULATED
from soak.bench.registry import Driver, Drivers, Tools, driver
from soak.bench.wiring import ButtonWired, LoadWired, Wired
from soak.clock import SoakClock
from soak.errors import BenchFault
from soak.natures import Nature
from soak.records import Json, Role
from soak.roles import Button, Capture, Instrument, Link, Load, Probe, Servo, Stick, Switch
from soak.sim.capture import CaptureSimulated, SimulatedCapture
from soak.sim.link import LinkSimulated, SimulatedLink
from soak.sim.probe import ProbeSimulated, SimulatedProbe, check_spot
from soak.sim.scene import Scene
from soak.sim.servo import ServoSimulated, SimulatedServo
from soak.sim.stick import SimulatedStick, StickSimulated
from soak.sim.switch import SimulatedSupply, SimulatedSwitch, SwitchSimulated
from soak.sim.troubles import presser_troubles
from soak.sim.unit import SimulatedUnit

W = TypeVar("W", bound=Wired)
Opener = Callable[[str, W, Tools], Awaitable[Instrument]]


def simulated_drivers(scene: Scene, seed: int) -> Drivers:
    """Return drivers of the kind `simulated` for one unit; make new ones for each soak.

    Instruments opened by them follow the clock of the tools they are opened with.
    """
    return drivers_of(simulated_unit(scene, seed))


def simulated_unit(scene: Scene, seed: int, *, plugged_in: bool = False) -> SimulatedUnit:
    """Return one unit of a scene.

    Parameters
    ----------
    plugged_in : bool
        Whether it has power from the beginning, where no switch is wired.
    """
    unit = SimulatedUnit(scene, seed)
    if plugged_in:
        unit.power(0.0, True)
    return unit


def drivers_of(unit: SimulatedUnit) -> Drivers:
    """Return drivers of the kind `simulated` for a unit at hand, one for each role."""
    found: dict[tuple[Role, str], Driver] = {}

    def simulated(settings: type[W]) -> Callable[[Opener[W]], None]:
        def take(opener: Opener[W]) -> None:
            found[settings.role, SIMULATED] = driver(settings.role, SIMULATED, settings)(opener)

        return take

    @simulated(SwitchSimulated)
    async def open_switch(name: str, wired: SwitchSimulated, tools: Tools) -> Switch:
        kind = SimulatedSwitch if wired.rated is None else SimulatedSupply
        return kind(name, wired, tools.clock, unit)

    @simulated(CaptureSimulated)
    async def open_capture(name: str, wired: CaptureSimulated, tools: Tools) -> Capture:
        return SimulatedCapture(wired, tools.clock, unit)

    @simulated(StickSimulated)
    async def open_stick(name: str, wired: StickSimulated, tools: Tools) -> Stick:
        return SimulatedStick(wired, tools.clock, unit)

    @simulated(ProbeSimulated)
    async def open_probe(name: str, wired: ProbeSimulated, tools: Tools) -> Probe:
        check_spot(name, wired, unit)
        return SimulatedProbe(name, wired, tools.clock, unit)

    @simulated(LinkSimulated)
    async def open_link(name: str, wired: LinkSimulated, tools: Tools) -> Link:
        return SimulatedLink(name, wired, tools.clock, unit)

    @simulated(LoadSimulated)
    async def open_load(name: str, wired: LoadSimulated, tools: Tools) -> Load:
        return SimulatedLoad(wired, unit)

    @simulated(ButtonSimulated)
    async def open_button(name: str, wired: ButtonSimulated, tools: Tools) -> Button:
        return SimulatedButton(name, tools.clock, unit)

    @simulated(ServoSimulated)
    async def open_servo(name: str, wired: ServoSimulated, tools: Tools) -> Servo:
        return SimulatedServo(name, wired, tools.clock, unit)

    return found


class ButtonSimulated(ButtonWired):
    """Settings of what presses the simulated unit's button."""

    driver: Literal["simulated"]


class SimulatedButton:
    """Presses the simulated unit's button, unless its adapter is lost as the scene says."""

    def __init__(self, name: str, clock: SoakClock, unit: SimulatedUnit) -> None:
        self._name, self._clock, self._unit = name, clock, unit
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


class LoadSimulated(LoadWired):
    """Settings of the simulated load."""

    driver: Literal["simulated"]


class SimulatedLoad:
    """Draws its current from the simulated unit's port while it is on."""

    def __init__(self, wired: LoadSimulated, unit: SimulatedUnit) -> None:
        self._wired, self._unit = wired, unit

    @property
    def identity(self) -> Json:
        """What it is."""
        return {"driver": "simulated", "nature": Nature.SIMULATED, "scene": self._unit.scene.name}

    async def command(self, on: bool) -> None:
        await trio.sleep(0.02)
        self._unit.drawn_a = self._wired.current_a if on else 0.0

    async def aclose(self) -> None:
        self._unit.drawn_a = 0.0
