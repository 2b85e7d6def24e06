"""What can be wired to a unit: each role said once, and how a fixture and a record name it.

What an instrument of a role can do stands in `soak.roles`, what its entry in a fixture file says in
`soak.bench.wiring`; whoever lists roles reads the table here.
"""

from collections.abc import AsyncIterator, Callable, Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, cast

from soak.records import Json, Role
from soak.roles import (
    Button,
    Capture,
    Instrument,
    Link,
    Load,
    Probe,
    Seen,
    Servo,
    Stick,
    Switch,
    Watcher,
)
from soak.words import Message, all_of, msg

Stream = Callable[[Any, Watcher | None], AsyncIterator[Seen]]
"""Starts what an instrument says by itself; pictures go to the watcher."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What is to be known of one role.

    Attributes
    ----------
    called : Message
        What its source is called where a sentence speaks of it; of a named one each has its name.
    absent : Message
        What is said where none is wired: "no capture card".
    named : bool
        Whether a fixture may have several, each with a name: then its source is `probe.NAME`.
    streams : Stream or None
        What it says by itself; one that says nothing counts as seen once it is open.
    guarded : bool
        Whether the guard's process may open it, and so share the switch's adapter.
    """

    called: Message
    absent: Message
    named: bool = False
    streams: Stream | None = None
    guarded: bool = False


ROLES: Mapping[Role, Entry] = MappingProxyType(
    {
        "switch": Entry(called=msg("switch"), absent=msg("no switch"), guarded=True),
        "capture": Entry(
            called=msg("capture"),
            absent=msg("no capture card"),
            streams=lambda capture, watcher: capture.watch(watcher),
        ),
        "stick": Entry(called=msg("stick"), absent=msg("no stick")),
        "link": Entry(
            called=msg("link"),
            absent=msg("no link watcher"),
            streams=lambda link, _: link.changes(),
        ),
        "load": Entry(called=msg("load"), absent=msg("no load")),
        "button": Entry(called=msg("button"), absent=msg("no presser of its power button")),
        "servo": Entry(called=msg("servo"), absent=msg("no servo")),
        "probe": Entry(
            called=msg("probe"),
            absent=msg("no probe"),
            named=True,
            guarded=True,
            streams=lambda probe, _: probe.readings(),
        ),
    }
)
"""All roles, in the order in which instruments are opened and listed: the switch first."""


def field_of(role: Role) -> str:
    """Return the name under which a fixture and `Instruments` hold a role: `switch`, `probes`."""
    return f"{role}s" if ROLES[role].named else role


def role_of(source: str) -> Role:
    """Return the role of a source: `probe` of `probe.heatsink`."""
    return cast(Role, source.partition(".")[0])


def wired(fixture: Json) -> dict[str, Json]:
    """Return what is wired by a fixture as a header holds it, by source, in the table's order."""
    found: dict[str, Json] = {}
    for role, entry in ROLES.items():
        told = fixture.get(role) or {}
        if entry.named:
            found |= {f"{role}.{name}": told[name] for name in sorted(told)}
        elif told:
            found[role] = told
    return found


def roles_of(fixture: Json) -> frozenset[Role]:
    """Return the roles that a fixture as a header holds it has."""
    return frozenset(role for role in ROLES if fixture.get(role))


def none_of(roles: Iterable[Role]) -> Message:
    """Say that these are missing: `no capture card and no stick`."""
    return all_of(ROLES[role].absent for role in sorted(roles))


@dataclass(frozen=True, slots=True)
class Instruments:
    """The opened instruments of one fixture; what is not wired is None or missing.

    Attributes
    ----------
    probes : mapping of source to Probe
        `probe.heatsink` and so on.
    """

    switch: Switch | None = None
    capture: Capture | None = None
    stick: Stick | None = None
    probes: Mapping[str, Probe] = field(default_factory=dict)
    link: Link | None = None
    load: Load | None = None
    button: Button | None = None
    servo: Servo | None = None

    def by_source(self) -> dict[str, Instrument]:
        """Return them by source, in the table's order."""
        found: dict[str, Instrument] = {}
        for role, entry in ROLES.items():
            held = getattr(self, field_of(role))
            if held is not None:
                found |= held if entry.named else {role: held}
        return found


def instruments_of(opened: Mapping[str, Instrument]) -> Instruments:
    """Put opened instruments under their roles.

    Parameters
    ----------
    opened : mapping of source to Instrument
    """
    held: dict[str, Any] = {
        field_of(role): {s: one for s, one in opened.items() if role_of(s) == role}
        if entry.named
        else opened.get(role)
        for role, entry in ROLES.items()
    }
    return Instruments(**held)
