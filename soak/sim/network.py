"""The simulated network port: the unit's socket at the end of the cable, and what it serves."""

import hashlib
from collections.abc import AsyncIterator
from typing import Literal

import trio

from soak.clock import SoakClock
from soak.frozen.wiring import NetworkWired
from soak.records import Json, Reading, State
from soak.roles import Fetched
from soak.sim.link import SimulatedLink
from soak.sim.played import played
from soak.sim.unit import SimulatedUnit
from soak.words import msg

_PAYLOAD = 0.94
"""Share of a link's speed that a file gets: frames of 1538 B carry 1448 B of it over TCP (IEEE
802.3 with 12 B between frames, RFC 7323 time stamps)."""
_STORE_BYTES_PER_S = 40e6
"""The unit reads its storage no faster, B/s. An invention, as all of a scene."""
_UNANSWERED_S = 3.0


class NetworkSimulated(NetworkWired):
    """Settings of the simulated network port."""

    driver: Literal["simulated"]


class SimulatedNetwork:
    """Sees the link as a simulated link does; serves one file that is always the same."""

    def __init__(
        self, name: str, wired: NetworkSimulated, clock: SoakClock, unit: SimulatedUnit
    ) -> None:
        self._link = SimulatedLink(name, wired, clock, unit)
        self._port = wired.port
        self._clock = clock
        self._unit = unit

    @property
    def identity(self) -> Json:
        """What it is."""
        return self._link.identity

    def changes(self) -> AsyncIterator[State | Reading]:
        return self._link.changes()

    async def fetch(self, url: str, limit_s: float) -> Fetched:
        begin_s = self._clock.now_s()
        size_bytes = self._unit.scene.network.serves_bytes
        if not self._there(begin_s) or not size_bytes:
            await trio.sleep(min(_UNANSWERED_S, limit_s))
            return Fetched(0, self._clock.now_s() - begin_s, why=msg("no route to the unit"))
        bytes_per_s = self._unit.link_mbps(self._port, begin_s) * 1e6 / 8 * _PAYLOAD
        takes_s = size_bytes / min(bytes_per_s, _STORE_BYTES_PER_S)
        if takes_s > limit_s or self._unit.befalls("network hung", begin_s, begin_s + takes_s):
            await trio.sleep(limit_s)
            return Fetched(0, limit_s, hung=True, why=msg("no end in time"))
        ends_s = begin_s + takes_s
        while (now_s := self._clock.now_s()) < ends_s:
            if not self._there(now_s):
                return Fetched(0, now_s - begin_s, why=msg("the connection was lost"))
            with trio.move_on_at(min(ends_s, self._unit.next_change_s(self._port, now_s))):
                await self._unit.changed.wait()
        wrong = self._unit.befalls("network damaged", begin_s, ends_s)
        seen = hashlib.sha256(f"{url} {'damaged' * wrong}".encode()).hexdigest()
        return Fetched(size_bytes, takes_s, sha256=seen)

    async def aclose(self) -> None:
        await self._link.aclose()

    def _there(self, t_s: float) -> bool:
        return self._unit.connected(self._port, t_s)


@played(NetworkSimulated)
def open_network(
    name: str, wired: NetworkSimulated, clock: SoakClock, unit: SimulatedUnit
) -> SimulatedNetwork:
    """Take the unit's network socket."""
    return SimulatedNetwork(name, wired, clock, unit)
