"""The simulated link: a port of the unit as the bench's computer sees it come and go."""

import math
from collections.abc import AsyncIterator
from typing import Literal

import trio

from soak.clock import SoakClock
from soak.frozen.wiring import LinkWired, NetworkWired
from soak.instruments import WATCHES
from soak.marks import LinkSaid, state_of
from soak.natures import Nature
from soak.records import Json, Reading, State
from soak.sim.played import played
from soak.sim.troubles import link_troubles
from soak.sim.unit import SimulatedUnit
from soak.states import BLIND
from soak.words import msg

REPEAT_S = 60.0
"""The speed of a link that stays is said again after so long, s."""


class LinkSimulated(LinkWired):
    """Settings of the simulated link; it watches the service port that `port` names."""

    driver: Literal["simulated"]


class SimulatedLink:
    """Says when the unit's port comes, goes and changes speed.

    It is there while the unit is started, its contact closed and the plug in; it falls back as the
    scene says, leaving and coming back at the lower speed.
    """

    def __init__(
        self, name: str, wired: LinkWired | NetworkWired, clock: SoakClock, unit: SimulatedUnit
    ) -> None:
        self._name = name
        self._wired = wired
        self._clock = clock
        self._unit = unit
        self._counted = WATCHES[wired.role].counts
        self._troubles = link_troubles(unit.scene, unit.seed)

    @property
    def identity(self) -> Json:
        """What it is; it sees everything."""
        return {
            "driver": "simulated",
            "nature": Nature.SIMULATED,
            "scene": self._unit.scene.name,
            "cannot": {},
        }

    async def changes(self) -> AsyncIterator[State | Reading]:
        for quantity in self._counted:
            yield Reading(self._clock.now_s(), f"{self._name}.{quantity}", 0.0)
        said = ""
        said_s = -REPEAT_S
        while True:
            now_s = self._clock.now_s()
            state, speed_mbps = self._seen(now_s)
            what = f"{state} {speed_mbps:g}"
            if what != said:
                yield self._state(now_s, state, speed_mbps)
            if state == "seen" and (what != said or now_s >= said_s + REPEAT_S):
                said_s = now_s
                yield Reading(now_s, f"{self._name}.speed", speed_mbps)
            said = what
            await self._wait(now_s, said_s + REPEAT_S if state == "seen" else math.inf)

    async def aclose(self) -> None:
        pass

    def _seen(self, t_s: float) -> tuple[str, float]:
        """Return the state and, while it is seen, its speed in Mb/s."""
        if any(trouble.from_s <= t_s < trouble.until_s for trouble in self._troubles):
            return BLIND, 0.0
        unit = self._unit
        port = self._wired.port
        if not unit.connected(port, t_s):
            return "gone", 0.0
        return "seen", unit.link_mbps(port, t_s)

    def _state(self, t_s: float, state: str, speed_mbps: float) -> State:
        said = LinkSaid()
        if state == "seen":
            said = LinkSaid(speed_mbps=speed_mbps, device="simulated", at=self._wired.port)
        if state == BLIND:
            said = LinkSaid(why=msg("the bench's hub vanished; plug it in again"))
        return state_of(t_s, self._name, state, said)

    async def _wait(self, now_s: float, repeat_s: float) -> None:
        """Wait for the next planned change, a change of plan, or the next repetition."""
        unit = self._unit
        due = [repeat_s, unit.next_change_s(self._wired.port, now_s)]
        due += [edge for trouble in self._troubles for edge in trouble[:2] if edge > now_s]
        with trio.move_on_at(min(due)):
            await unit.changed.wait()


@played(LinkSimulated)
def open_link(
    name: str, wired: LinkSimulated, clock: SoakClock, unit: SimulatedUnit
) -> SimulatedLink:
    """Take the unit's port."""
    return SimulatedLink(name, wired, clock, unit)
