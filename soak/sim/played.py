"""Simulated drivers, found by a scan: each file of `soak/sim` may say what it plays."""

import importlib
import pkgutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import soak.sim
from soak.clock import SoakClock
from soak.frozen.wiring import Wired
from soak.roles import Instrument
from soak.sim.unit import SimulatedUnit

W = TypeVar("W", bound=Wired)
Open = Callable[[str, W, SoakClock, SimulatedUnit], Instrument]
"""`open(name, wired, clock, unit)`: `name` is the source, `"switch"` or `"probe.heatsink"`."""


@dataclass(frozen=True, slots=True)
class Played:
    """How a role is played: the settings in a simulated fixture, and what opens it on a unit."""

    settings: type[Wired]
    open: Open[Any]


def played(settings: type[W]) -> Callable[[Open[W]], Played]:
    """Make what opens a simulated instrument known; the decorated name then holds the `Played`."""
    return lambda opener: Played(settings, opener)


def all_played() -> Sequence[Played]:
    """Return all that the files of `soak/sim` play."""
    modules = [
        importlib.import_module(f"soak.sim.{file.name}")
        for file in pkgutil.iter_modules(soak.sim.__path__)
    ]
    return [
        thing for module in modules for thing in vars(module).values() if isinstance(thing, Played)
    ]
