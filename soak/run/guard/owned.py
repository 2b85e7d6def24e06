"""Which instruments of a fixture the guard's process opens, and how they are named to it."""

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from soak.bench.registry import driver_of
from soak.errors import BenchFault
from soak.frozen.wiring import Wired
from soak.instruments import ROLES
from soak.records import Json, Role
from soak.words import msg

if TYPE_CHECKING:  # the guard's process reads no fixture file
    from soak.frozen.fixture import Fixture

_ASKS = "by_hand"
"""What the operator is asked for cannot leave the program that asks."""


def owned(fixture: "Fixture") -> Sequence[str]:
    """Return the sources that the guard opens: none where no switch has a port of its own.

    They are the switch, every probe that guards, and whatever shares a port with one of these: a
    supply may be switch and probe in one.
    """
    switch = fixture.switch
    if switch is None or switch.driver == _ASKS:
        return ()
    entries = {
        source: wired
        for source, role, wired in fixture.entries()
        if ROLES[role].guarded and wired.driver != _ASKS
    }
    sources = [source for source in entries if source == "switch" or _guards(fixture, source)]
    ports = {claim.port for source in sources for claim in entries[source].claims()}
    return [
        source
        for source, wired in entries.items()
        if source in sources or any(claim.port in ports for claim in wired.claims())
    ]


def without(fixture: "Fixture", sources: Sequence[str]) -> "Fixture":
    """Return the fixture as the runner opens it: without what the guard owns."""
    rest = {source: one for source, one in fixture.wired.items() if source not in sources}
    return replace(fixture, wired=rest)


def as_order(fixture: "Fixture", sources: Sequence[str]) -> Json:
    """Return the settings of these instruments as they go over the line."""
    return {
        source: {"role": role, "settings": wired.model_dump(mode="json")}
        for source, role, wired in fixture.entries()
        if source in sources
    }


def from_order(order: Json) -> dict[str, tuple[Role, Wired]]:
    """Return the settings that `as_order` wrote.

    Raises
    ------
    BenchFault
        If this program has no such driver, or the settings are not its.
    """
    wired: dict[str, tuple[Role, Wired]] = {}
    for source, entry in order.items():
        try:
            role: Role = entry["role"]
            settings: dict[str, Any] = entry["settings"]
            kind = driver_of(role, settings["driver"])
            wired[source] = (role, kind.settings.model_validate(settings))
        except (KeyError, TypeError, ValueError):
            raise BenchFault(source, msg("the guard does not know these settings")) from None
    return wired


def _guards(fixture: "Fixture", source: str) -> bool:
    name = source.removeprefix("probe.")
    return source != name and name in fixture.probes and fixture.probes[name].guards
