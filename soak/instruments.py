"""What can be wired to a unit: each role said once, and how a fixture and a record name it.

What an instrument of a role can do stands in `soak.roles`, what its entry in a fixture file says in
`soak.frozen.wiring`; whoever lists roles reads the table here.
"""

from collections.abc import AsyncIterator, Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from soak.frozen.fixture import Fixture
from soak.frozen.shape import Json
from soak.frozen.wiring import ROLE_SETTINGS, Role, field_of, role_of
from soak.roles import (
    Button,
    Capture,
    Instrument,
    Link,
    Load,
    Network,
    Probe,
    Seen,
    Servo,
    Stick,
    Switch,
    Watcher,
)
from soak.words import NOTHING_SAID, Amount, Message, Stated, all_of, counted, just, msg

Stream = Callable[[Any, Watcher | None], AsyncIterator[Seen]]
"""Starts what an instrument says by itself; pictures go to the watcher."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AtPort:
    """What is said of what can go from the unit's port: a stick, a device, a network link.

    Attributes
    ----------
    gone : Message
        That it went, in a few words.
    gone_for : callable
        That it was gone for a time.
    watch : Watch or None
        More of what watches a port and does nothing there; None: of what data crosses to.
    """

    gone: Message
    gone_for: Callable[[Amount], Message]
    watch: "Watch | None" = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Watch:
    """What is said of a role that watches something come, go and change speed at a port.

    Its states are seen, gone and blind; its speed in Mb/s is the quantity `ROLE.speed`.

    Attributes
    ----------
    sign : str
        What it sees at the port of a unit that is on.
    notices : Message
        The shortest loss that it can see.
    counts : sequence of str
        What else befalls it and is counted, each a quantity `ROLE.NAME`.
    elsewhere : Message
        That it watches no port of the unit.
    stays : Message
        The demand that it never goes.
    losses : callable
        How many losses there were in a time.
    never : callable
        That it was never seen, and why if that is known.
    no_speed : Message
        That no speed was read.
    runs_at, ran_at, slow, fell : callable
        The demand of a speed, that it was kept, that it was not, and that it came down to one.
    named_speed : callable
        The name of a speed in Mb/s.
    hint : callable
        Where to look for what the lowest speed, Mb/s, lacks of the demanded one.
    """

    sign: Message
    notices: Message
    counts: Sequence[str] = ()
    elsewhere: Message
    stays: Message
    losses: Callable[[int, Amount], Message]
    never: Callable[[str], Message]
    no_speed: Message
    runs_at: Callable[[Stated], Message]
    ran_at: Callable[[Message], Message]
    slow: Callable[[Message | str], Message]
    fell: Callable[[Stated], Message]
    named_speed: Callable[[float], Message]
    hint: Callable[[float, float], Message]


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What is to be known of one role.

    Attributes
    ----------
    called : Message
        What its source is called where a sentence speaks of it; of a named one each has its name.
    absent : Message
        What is said where none is wired: "no capture card".
    streams : Stream or None
        What it says by itself; one that says nothing counts as seen once it is open.
    guarded : bool
        Whether the guard's process may open it, and so share the switch's adapter.
    at_port : AtPort or None
        What is said of it where it can go from a port of the unit.
    """

    called: Message
    absent: Message
    streams: Stream | None = None
    guarded: bool = False
    at_port: AtPort | None = None


SUPER_MBPS = 5000.0
"""From here on a link runs over its own pairs of wires: USB 3.0 specification, section 3.1."""
HIGH_MBPS = 480.0
"""Signalling rate of high speed, Mb/s: USB 2.0 specification."""


def _usb_speed(speed_mbps: float) -> Message:
    """Say a speed by its name in the USB specifications, if it has one."""
    stated = Stated(speed_mbps, "Mb/s")
    if speed_mbps >= SUPER_MBPS:
        return msg("SuperSpeed ({speed})", speed=stated)
    named = {
        1.5: msg("low speed ({speed})", speed=stated),
        12.0: msg("full speed ({speed})", speed=stated),
        HIGH_MBPS: msg("high speed ({speed})", speed=stated),
    }
    return named.get(speed_mbps) or just(stated)


def _usb_pairs(lowest_mbps: float, wanted_mbps: float) -> Message:
    if wanted_mbps >= SUPER_MBPS > lowest_mbps:
        return msg("look at the SuperSpeed pairs")
    if wanted_mbps >= HIGH_MBPS > lowest_mbps:
        return msg("look at the data pair and its contacts")
    return NOTHING_SAID


def _usb_never(why: str) -> Message:
    if not why:
        return msg("the device was never seen at the port while the unit was started")
    return msg("the device was never seen at the port while the unit was started ({why})", why=why)


_LINK = Watch(
    sign=msg("device at the port"),
    # USB notices a leaving within about 50 ms: common practice.
    notices=msg("50 ms at the link"),
    counts=("resets", "descriptor_failures", "over_current"),
    elsewhere=msg(
        "the link watches a device at the bench's own port; name the unit's port in the fixture"
    ),
    stays=msg("The device at the port stays while the unit is on"),
    losses=lambda number, time: counted(
        number,
        "the device left once in {time}",
        "the device left {count} times in {time}",
        none=msg("the device never left in {time}", time=time),
        time=time,
    ),
    never=_usb_never,
    no_speed=msg("no speed of the link was ever read"),
    runs_at=lambda speed: msg("The link always runs at {speed} or more", speed=speed),
    ran_at=lambda speed: msg("the link ran at {speed} or more", speed=speed),
    slow=lambda what: msg("the link is slow: {what}", what=what),
    fell=lambda speed: msg("link fell to {speed}", speed=speed),
    named_speed=_usb_speed,
    hint=_usb_pairs,
)


def _pairs(lowest_mbps: float, wanted_mbps: float) -> Message:
    """Say which pairs of the cable a lower speed does without.

    1000 Mb/s runs over all four pairs (IEEE 802.3 clause 40), 10 and 100 Mb/s over two (clauses 14
    and 25).
    """
    if wanted_mbps >= FOUR_PAIRS_MBPS > lowest_mbps:
        return msg("look at the two pairs that only a gigabit link needs (4 and 5, 7 and 8)")
    return NOTHING_SAID


def _never_up(why: str) -> Message:
    if not why:
        return msg("no network link came up while the unit was started")
    return msg("no network link came up while the unit was started ({why})", why=why)


FOUR_PAIRS_MBPS = 1000.0
"""From this speed on a copper link needs all four pairs of its cable: IEEE 802.3 clause 40."""

_NETWORK = Watch(
    sign=msg("network link"),
    # The kernel tells of a carrier at most once a second, and counts what it did not tell.
    notices=msg("any loss of the network link that the kernel counts"),
    elsewhere=msg("the network port watched is at no unit; name the unit's port in the fixture"),
    stays=msg("The network link stays while the unit is on"),
    losses=lambda number, time: counted(
        number,
        "1 loss of the network link in {time}",
        "{count} losses of the network link in {time}",
        none=msg("no loss of the network link in {time}", time=time),
        time=time,
    ),
    never=_never_up,
    no_speed=msg("no speed of the network link was ever read"),
    runs_at=lambda speed: msg("The network link always runs at {speed} or more", speed=speed),
    ran_at=lambda speed: msg("the network link ran at {speed} or more", speed=speed),
    slow=lambda what: msg("the network link is slow: {what}", what=what),
    fell=lambda speed: msg("network link fell to {speed}", speed=speed),
    named_speed=lambda speed_mbps: just(Stated(speed_mbps, "Mb/s")),
    hint=_pairs,
)

ROLES: Mapping[Role, Entry] = MappingProxyType(
    {
        "switch": Entry(called=msg("switch"), absent=msg("no switch"), guarded=True),
        "capture": Entry(
            called=msg("capture"),
            absent=msg("no capture card"),
            streams=lambda capture, watcher: capture.watch(watcher),
        ),
        "stick": Entry(
            called=msg("stick"),
            absent=msg("no stick"),
            at_port=AtPort(
                gone=msg("stick gone"),
                gone_for=lambda time: msg("stick gone from the port for {time}", time=time),
            ),
        ),
        "link": Entry(
            called=msg("link"),
            absent=msg("no link watcher"),
            streams=lambda link, _: link.changes(),
            at_port=AtPort(
                gone=msg("link gone"),
                gone_for=lambda time: msg("the device left the port for {time}", time=time),
                watch=_LINK,
            ),
        ),
        "network": Entry(
            called=msg("network link"),
            absent=msg("no network port"),
            streams=lambda network, _: network.changes(),
            at_port=AtPort(
                gone=msg("network link gone"),
                gone_for=lambda time: msg("the network link was gone for {time}", time=time),
                watch=_NETWORK,
            ),
        ),
        "load": Entry(called=msg("load"), absent=msg("no load")),
        "button": Entry(called=msg("button"), absent=msg("no presser of its power button")),
        "servo": Entry(called=msg("servo"), absent=msg("no servo")),
        "probe": Entry(
            called=msg("probe"),
            absent=msg("no probe"),
            guarded=True,
            streams=lambda probe, _: probe.readings(),
        ),
    }
)
"""All roles, in the order in which instruments are opened and listed: the switch first."""

LOSABLE: Sequence[Role] = ("capture", *(role for role, one in ROLES.items() if one.at_port))
"""Sources of which a state can be a loss of the unit's."""

WATCHES: Mapping[Role, Watch] = MappingProxyType(
    {role: one.at_port.watch for role, one in ROLES.items() if one.at_port and one.at_port.watch}
)
"""Roles that watch something come and go at a port of the unit, and what is said of them."""


def gone_kind(source: str) -> str:
    """Return the kind of fault that a source is gone from its port: `link gone`."""
    return f"{source} gone"


def watchers_at(fixture: Fixture) -> dict[Role, str]:
    """Return the ports of the unit that a fixture watches, by role."""
    ports = {role: fixture.port_of(role) for role in WATCHES}
    return {role: port for role, port in ports.items() if port}


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
    network: Network | None = None
    load: Load | None = None
    button: Button | None = None
    servo: Servo | None = None

    def by_source(self) -> dict[str, Instrument]:
        """Return them by source, in the table's order."""
        instruments: dict[str, Instrument] = {}
        for role in ROLES:
            held = getattr(self, field_of(role))
            if held is not None:
                instruments |= held if ROLE_SETTINGS[role].named else {role: held}
        return instruments

    def identities(self) -> dict[str, Json]:
        """Return what each says of itself."""
        return {source: dict(one.identity) for source, one in self.by_source().items()}


def instruments_of(opened: Mapping[str, Instrument]) -> Instruments:
    """Put opened instruments under their roles.

    Parameters
    ----------
    opened : mapping of source to Instrument
    """
    held: dict[str, Any] = {
        field_of(role): {s: one for s, one in opened.items() if role_of(s) == role}
        if ROLE_SETTINGS[role].named
        else opened.get(role)
        for role, entry in ROLES.items()
    }
    return Instruments(**held)
