"""The simulated drivers of one scene; all of them share one unit."""

from soak.bench.registry import Driver, Drivers, Tools, driver
from soak.frozen.fixture import SIMULATED
from soak.frozen.wiring import Wired
from soak.roles import Instrument
from soak.sim.played import Played, all_played
from soak.sim.scene import Scene
from soak.sim.unit import SimulatedUnit


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
    return {(played.settings.role, SIMULATED): _driver(played, unit) for played in all_played()}


def _driver(one: Played, unit: SimulatedUnit) -> Driver:
    async def open_simulated(name: str, wired: Wired, tools: Tools) -> Instrument:
        return one.open(name, wired, tools.clock, unit)

    return driver(one.settings.role, SIMULATED, one.settings)(open_simulated)
