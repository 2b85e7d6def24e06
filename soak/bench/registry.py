"""The drivers found in `soak/bench/drivers`, and opening the instruments of a fixture with them."""

import importlib
import pkgutil
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping, Sequence
from contextlib import asynccontextmanager
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeVar

import trio

import soak.bench.drivers
from soak.clock import SoakClock
from soak.errors import BenchFault, told_of
from soak.frozen.wiring import ROLE_SETTINGS, Wired
from soak.instruments import Instruments, instruments_of
from soak.records import Role
from soak.roles import Ask, Instrument, OffLoop
from soak.words import Number, msg

if TYPE_CHECKING:
    from soak.frozen.fixture import Fixture

W = TypeVar("W", bound=Wired)

CLOSING_LIMIT_S = 10.0
"""An instrument that has not let go after so long is left behind: the exit must not hang. Our own
choice."""


@dataclass(frozen=True, slots=True)
class Tools:
    """What an opener is given besides its settings.

    Attributes
    ----------
    off_loop : OffLoop
        The only way to a thread.
    ask : Ask
        Asks the operator.
    clock : SoakClock
        Soak time.
    """

    off_loop: OffLoop
    ask: Ask
    clock: SoakClock


Opener = Callable[[str, Any, Tools], Awaitable[Instrument]]
"""`opener(name, wired, tools)`: `name` is the source, `"switch"` or `"probe.heatsink"`."""


@dataclass(frozen=True, slots=True)
class Driver:
    """One way to drive a role: its kind, its settings class and its opener."""

    role: Role
    kind: str
    settings: type[Wired]
    open: Opener


Drivers = Mapping[tuple[Role, str], Driver]


def driver(
    role: Role, kind: str, settings: type[W]
) -> Callable[[Callable[[str, W, Tools], Awaitable[Instrument]]], Driver]:
    """Make an opener a driver; the decorated name then holds the `Driver`.

    Examples
    --------
    >>> class Settings(ProbeWired):
    ...     driver: Literal["my_meter"]
    >>> @driver("probe", "my_meter", Settings)
    ... async def open_meter(name: str, wired: Settings, tools: Tools) -> Probe:
    ...     '''Open the meter.'''

    Raises
    ------
    TypeError
        If the settings do not derive from the role's class.
    """
    if not issubclass(settings, ROLE_SETTINGS[role]):
        raise TypeError(f"{settings.__name__} does not derive from {ROLE_SETTINGS[role].__name__}")

    def register(opener: Callable[[str, W, Tools], Awaitable[Instrument]]) -> Driver:
        return Driver(role, kind, settings, opener)

    return register


@cache
def drivers() -> Drivers:
    """Return all drivers in `soak/bench/drivers`, by role and kind."""
    return MappingProxyType(
        {
            (driver.role, driver.kind): driver
            for kind in sorted(_kinds())
            for driver in _in_file(kind)
        }
    )


def driver_of(role: Role, kind: str) -> Driver:
    """Return one driver and load no other: a kind is the name of its file.

    Raises
    ------
    KeyError
        If there is none.
    """
    drivers = _in_file(kind) if kind in _kinds() else ()
    for known in drivers:
        if (known.role, known.kind) == (role, kind):
            return known
    raise KeyError(role, kind)


@cache
def _kinds() -> frozenset[str]:
    return frozenset(file.name for file in pkgutil.iter_modules(soak.bench.drivers.__path__))


@cache
def _in_file(kind: str) -> Sequence[Driver]:
    loaded = importlib.import_module(f"soak.bench.drivers.{kind}")
    return [entry for entry in vars(loaded).values() if isinstance(entry, Driver)]


@asynccontextmanager
async def open_instruments(
    fixture: "Fixture", tools: Tools, extra: Drivers = MappingProxyType({})
) -> AsyncIterator[Instruments]:
    """Open all instruments of a fixture; close them in reverse order, whatever happens.

    The switch is opened first and so closed last. In `Instruments` the probes stand under the
    name of their source, `"probe.heatsink"`.

    Parameters
    ----------
    extra : Drivers
        Drivers besides the built-in ones: the simulated ones.

    Raises
    ------
    BenchFault
        If one does not open (those already open are closed again), or one fails to close.
    """
    known = {**drivers(), **extra}
    opened: dict[str, Instrument] = {}
    failed: BenchFault | None = None
    try:
        for name, role, wired in fixture.entries():
            opened[name] = await _open(known[role, wired.driver], name, wired, tools)
        yield instruments_of(opened)
    finally:
        for name, instrument in reversed(opened.items()):
            failed = await _close(name, instrument) or failed
    if failed is not None:
        raise failed


async def _open(found: Driver, name: str, wired: Wired, tools: Tools) -> Instrument:
    try:
        return await found.open(name, wired, tools)
    except (OSError, trio.TooSlowError) as fault:
        why = str(fault) or type(fault).__name__
        raise BenchFault(
            name, msg("cannot be opened by {kind}: {why}", kind=found.kind, why=why)
        ) from fault


async def _close(name: str, instrument: Instrument) -> BenchFault | None:
    with trio.CancelScope(deadline=trio.current_time() + CLOSING_LIMIT_S, shield=True) as limit:
        try:
            await instrument.aclose()
        except (OSError, BenchFault) as fault:
            return BenchFault(name, msg("did not close: {why}", why=told_of(fault)))
    if limit.cancelled_caught:
        return BenchFault(
            name,
            msg(
                "did not close within {closing_limit_s} s; unplug it",
                closing_limit_s=Number(CLOSING_LIMIT_S, "g"),
            ),
        )
    return None
