"""What can see whether the unit has power: its picture, a USB port's 5 V, a USB device."""

from collections.abc import Callable, Collection
from contextlib import aclosing
from typing import Any, Protocol, cast

import trio

from soak.derive.said import state_words
from soak.derive.seeing.signs import LEAST_A, ON_V
from soak.frozen.fixture import Fixture
from soak.instruments import WATCHES, watchers_at
from soak.marks import said_by
from soak.names import source_named
from soak.records import Reading, Role, State
from soak.run.hub import Hub
from soak.states import DARK, GONE, PROTECTED, SEEN, SHOWN
from soak.words import Message, Number, Said, msg

OFF_V = 1.0
"""A USB port with less than that has no power. A port that is let go discharges to below 0.7 V
within a second: USB Type-C specification, not checked against its own text."""


GONE_SHARE = 0.1
"""A supply current of at least `LEAST_A` that falls below this share has ended. Our own choice."""


class Witness(Protocol):
    """Sees whether the unit has power."""

    @property
    def source(self) -> str:
        """The instrument."""
        ...

    @property
    def sign(self) -> Said:
        """What it sees while the power is on."""
        ...

    @property
    def said(self) -> Said:
        """What it saw last."""
        ...

    async def sees(self, on: bool, limit_s: float) -> float | None:
        """Return since when it sees the power on (off), s; None if not within `limit_s`."""
        ...

    def stays(self) -> Message:
        """Say what it means that it does not see the power go."""
        ...


def hangs_up(fixture: Fixture) -> bool:
    """Tell whether the switch is one whose port hangs up on the bus whether or not its 5 V go."""
    return fixture.identity("switch").hangs_up_on_the_bus


class PictureWitness:
    """Sees the unit's picture."""

    source = "capture"
    sign: Said = msg("picture")

    def __init__(self, hub: Hub) -> None:
        self._hub = hub
        self.said: Said = ""

    async def sees(self, on: bool, limit_s: float) -> float | None:
        wanted = SHOWN if on else DARK
        seen_s = await _state(self._hub, self.source, wanted, limit_s)
        latest = seen_s or self._hub.state(self.source)
        self.said = "" if latest is None else state_words(latest.state)
        if latest is not None and latest.state == PROTECTED:
            self.said = msg(
                "{state}; have the unit show something that is not protected", state=self.said
            )
        return seen_s.t_s if seen_s else None

    def stays(self) -> Message:
        return msg("the picture stays: this capture sees another unit, or the relay is welded")


class PortWitness:
    """Sees what a role watches at the unit's port: a USB device, a network link."""

    def __init__(self, hub: Hub, role: Role) -> None:
        self._hub = hub
        self.source = role
        self.said: Said = ""
        self.sign = WATCHES[role].sign

    async def sees(self, on: bool, limit_s: float) -> float | None:
        seen_s = await _state(self._hub, self.source, {SEEN} if on else {GONE}, limit_s)
        latest = self._hub.state(self.source)
        why = "" if latest is None else said_by(latest).why
        self.said = seen_s.state if seen_s else why
        return seen_s.t_s if seen_s else None

    def stays(self) -> Message:
        return msg(
            "the {sign} stays: the {source} watches another unit's, or the relay is welded",
            sign=self.sign,
            source=source_named(self.source),
        )


class VoltageWitness:
    """Measures the 5 V of a USB port of the unit.

    Parameters
    ----------
    claims : bool
        Whether the switch is a hub that only claims to switch its ports.
    """

    sign: Said = "5 V"

    def __init__(self, hub: Hub, source: str, claims: bool) -> None:
        self._hub = hub
        self.source = source
        self._claims = claims
        self.said: Said = ""
        self._last_v = 0.0

    async def sees(self, on: bool, limit_s: float) -> float | None:
        def far_enough(reading: Reading) -> bool:
            self._last_v = reading.value
            return reading.value > ON_V if on else reading.value < OFF_V

        since_s = trio.current_time()
        seen_s = await _first(
            self._hub,
            self.source,
            lambda one: isinstance(one, Reading) and one.t_s >= since_s and far_enough(one),
            limit_s,
        )
        self.said = msg("{volt} V", volt=Number(self._last_v, ".2f"))
        return seen_s.t_s if seen_s else None

    def stays(self) -> Message:
        cause = msg("this probe is at another port, or the relay is welded")
        if self._claims:
            cause = msg("the hub claims to switch this port and does not")
        return msg("still {last_v} V: {cause}", last_v=Number(self._last_v, ".2f"), cause=cause)


def other_witnesses(hub: Hub, fixture: Fixture) -> list[Witness]:
    """Return what besides a capture can see whether this unit has power."""
    witnesses: list[Witness] = []
    for name, wired in fixture.probes.items():
        if wired.unit == "V" and wired.at_port:
            witnesses.append(VoltageWitness(hub, f"probe.{name}", hangs_up(fixture)))
    witnesses += [PortWitness(hub, role) for role in watchers_at(fixture)]
    return witnesses


class CurrentWitness:
    """Measures what the unit draws from its supply: nothing more once its power is cut."""

    sign: Said = msg("supply current")

    def __init__(self, hub: Hub, source: str) -> None:
        self._hub = hub
        self.source = source
        self.said: Said = ""

    async def sees(self, on: bool, limit_s: float) -> float | None:
        before = self._hub.reading(self.source)
        since_s = trio.current_time()
        if before is None or before.value < LEAST_A:
            return None  # what drew next to nothing cannot be seen to stop
        least_a = GONE_SHARE * before.value

        def told(one: State | Reading) -> bool:
            if not isinstance(one, Reading) or one.t_s < since_s:
                return False
            return one.value > least_a if on else one.value < least_a

        seen_s = await _first(self._hub, self.source, told, limit_s)
        self.said = ""
        if isinstance(seen_s, Reading):
            self.said = msg("{ampere} A", ampere=Number(seen_s.value, ".3f"))
        return seen_s.t_s if seen_s else None

    def stays(self) -> Message:
        return msg(
            "it still draws current: this probe measures another unit's, or the relay is welded"
        )


def last_witnesses(hub: Hub, fixture: Fixture) -> list[Witness]:
    """Return what can see the last off, asked right after it: a supply current that ends, too."""
    witnesses = other_witnesses(hub, fixture)
    witnesses += [
        CurrentWitness(hub, f"probe.{name}")
        for name, wired in fixture.probes.items()
        if wired.unit == "A" and not wired.at_port
    ]
    return witnesses


async def _state(hub: Hub, source: str, wanted: Collection[str], limit_s: float) -> State | None:
    state = await _first(
        hub, source, lambda one: isinstance(one, State) and one.state in wanted, limit_s
    )
    return state if isinstance(state, State) else None


async def _first(
    hub: Hub, source: str, wanted: Callable[[State | Reading], bool], limit_s: float
) -> State | Reading | None:
    """Return the first wanted record of a source, the latest included; None after `limit_s`."""
    with trio.move_on_after(limit_s):
        async with aclosing(cast(Any, hub.follow(source))) as records:
            async for record in records:
                if wanted(record):
                    return cast(State | Reading, record)
    return None
