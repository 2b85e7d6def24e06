"""Network: a network port of this computer with the unit at its cable, by the kernel's events.

A port has *carrier* while both ends have found each other. On copper they agree on the best mode
that both offer (IEEE 802.3 clause 28, priorities in annex 28B.3); what a worn contact spoils is
tried again at a lower one, with the carrier gone meanwhile. The kernel tells of it over rtnetlink,
without permission; the file that a unit serves is fetched over this port and no other.

References
----------
rtnetlink(7) and include/uapi/linux/if_link.h (messages); socket(7) (SO_BINDTODEVICE); Linux,
Documentation/networking/operstates.rst (what IFF_UP and carrier mean),
Documentation/ABI/testing/sysfs-class-net (`speed`, `duplex`), net/core/link_watch.c (carrier is
told of at most once a second).
"""

import hashlib
import http.client
import socket
from collections.abc import AsyncIterator, Sequence
from time import monotonic
from typing import Any, Literal
from urllib.parse import urlsplit

import trio
from pydantic import Field

from soak.bench import nature
from soak.bench.registry import Tools, driver
from soak.bench.rtnetlink import Interface, interfaces, mode_of, open_events, parse_messages
from soak.bench.usb.eyes import received
from soak.errors import BenchFault
from soak.frozen.wiring import Claim, NetworkWired
from soak.marks import LinkSaid, state_of
from soak.natures import Nature
from soak.records import Json, Reading, State
from soak.roles import Fetched
from soak.states import BLIND, GONE, SEEN
from soak.words import NOTHING_SAID, Amount, Message, joined, just, msg

_LOOK_LIMIT_S = 10.0
"""The kernel answers a question about its interfaces within so long, or is told not to, s. Our own
choice."""
_TICK_S = 1.0
"""So long events are waited for before the clock is looked at, s. Our own choice."""
_LOOK_ANYWAY_S = 10.0
"""The kernel is asked so often all the same, s: an event may have been lost. Our own choice."""
_SAY_ANYWAY_S = 60.0
"""The speed of a link that stays is said again after so long, s. Our own choice."""
_TOLD_WITHIN_S = 2.0
"""An event may come so late, s: some adapters' drivers ask the hardware every two seconds (e1000:
told after 1.0 and 1.9 s on an emulated one), phylib every second, and the kernel tells at most once
a second (Linux, net/core/link_watch.c), from memory."""

_CHUNK_BYTES = 1 << 16


class NetworkPort(NetworkWired):
    """Settings of a network port of the bench's computer.

    Attributes
    ----------
    interface : str
        Its name, `eth1`, `enx0050b6112233`; `soak find` lists them.
    """

    driver: Literal["network_port"]
    interface: str = Field(min_length=1, max_length=15)

    def claims(self) -> Sequence[Claim]:
        """Return the port: one unit hangs on it."""
        return (Claim(self.interface),)


class PortWatch:
    """Say what a port is, from one thing that the kernel tells after another. Pure."""

    def __init__(self, source: str, name: str) -> None:
        self._source = source
        self._name = name
        self._state = ""
        self._why = NOTHING_SAID
        self._drops: int | None = None
        self._speed_mbps: float | None = None
        self._said_s = 0.0

    def take(
        self,
        t_s: float,
        now: Interface | None,
        mode: tuple[float | None, str] = (None, ""),
        within_s: float = 0.0,
    ) -> list[State | Reading]:
        """Say what began.

        Parameters
        ----------
        now : Interface or None
            The port; None: there is none of its name.
        mode : (float or None, str)
            Its speed in Mb/s and duplex.
        within_s : float
            What changed may have changed so much earlier.
        """
        if now is None:
            return self._lost(t_s, gone_words(self._name), within_s)
        if not now.up:
            return self._lost(t_s, off_words(self._name), within_s)
        missed = self._missed(now)
        self._drops = now.drops
        if not now.carrier:
            return self._say(t_s, GONE, within_s, LinkSaid(at=self._name))
        seen: list[State | Reading] = []
        if missed:  # the carrier went and came between two looks
            seen += self._say(t_s, GONE, within_s, LinkSaid(at=self._name, missed=missed))
        speed_mbps, duplex = mode
        if self._state != SEEN:
            said = LinkSaid(at=self._name, speed_mbps=speed_mbps, duplex=duplex)
            seen += self._say(t_s, SEEN, within_s, said)
        due = speed_mbps != self._speed_mbps or t_s >= self._said_s + _SAY_ANYWAY_S
        if speed_mbps is not None and due:
            self._speed_mbps = speed_mbps
            self._said_s = t_s
            seen.append(Reading(t_s, f"{self._source}.speed", speed_mbps))
        return seen

    def lost_sight(self, t_s: float, why: Message, within_s: float) -> list[State | Reading]:
        """Say that the bench cannot look at all."""
        return self._lost(t_s, why, within_s)

    def _missed(self, now: Interface) -> int:
        if self._state != SEEN or now.drops is None or self._drops is None or not now.carrier:
            return 0
        return max(0, now.drops - self._drops)

    def _lost(self, t_s: float, why: Message, within_s: float) -> list[State | Reading]:
        self._drops = None
        return self._say(t_s, BLIND, within_s, LinkSaid(why=why))

    def _say(
        self, t_s: float, state: str, within_s: float, said: LinkSaid
    ) -> list[State | Reading]:
        if (state, said.why) == (self._state, self._why):
            return []
        self._state = state
        self._why = said.why
        self._speed_mbps = None
        return [state_of(t_s, self._source, state, said, within_s=within_s)]


def gone_words(name: str) -> Message:
    """Say that a port is gone from this computer, and what to do."""
    return msg(
        "the network interface {name} is gone from this computer; plug its adapter in again",
        name=name,
    )


def off_words(name: str) -> Message:
    """Say that a port is switched off on this computer, and what to do."""
    return msg(
        "the network interface {name} is switched off on this computer; "
        "switch it on: ip link set {name} up",
        name=name,
    )


class NetworkOfBench:
    """Watches the carrier of one port of this computer, and fetches over it."""

    def __init__(
        self, name: str, wired: NetworkPort, tools: Tools, events: trio.socket.SocketType
    ) -> None:
        self._name = name
        self._wired = wired
        self._tools = tools
        self._events = events
        self._watch = PortWatch(name, wired.interface)
        self._index = 0
        self.nature = Nature.UNKNOWN
        self.address = ""

    @property
    def identity(self) -> Json:
        """The port and its hardware address."""
        return {
            "driver": self._wired.driver,
            "nature": self.nature,
            "device": self._wired.interface,
            "address": self.address,
        }

    async def changes(self) -> AsyncIterator[State | Reading]:
        """Yield states (seen, gone, blind) and speeds."""
        now_s = self._tools.clock.now_s
        looked_s = now_s()
        for record in await self._look(looked_s, 0.0):
            yield record
        while True:
            came_s, messages = await received(self._events, _TICK_S, now_s)
            for interface in [
                told_of for message in messages for told_of in parse_messages(message)
            ]:
                for record in await self._hear(came_s, interface, _TOLD_WITHIN_S):
                    yield record
            if b"" in messages or now_s() >= looked_s + _LOOK_ANYWAY_S:
                within_s = now_s() - looked_s
                looked_s = now_s()
                for record in await self._look(looked_s, within_s):
                    yield record

    async def fetch(self, url: str, limit_s: float) -> Fetched:
        """Fetch what the unit serves; one that does not end in time hung."""
        begin_s = self._tools.clock.now_s()
        fetching = fetch_over, self._wired.interface, url, limit_s
        try:
            return await self._tools.off_loop.call(limit_s, *fetching)
        except TimeoutError:
            took_s = self._tools.clock.now_s() - begin_s
            return Fetched(0, took_s, hung=True, why=msg("no end in time"))

    async def aclose(self) -> None:
        """Let go of the events; twice is safe."""
        self._events.close()
        await trio.lowlevel.checkpoint()

    async def _hear(self, t_s: float, told: Interface, within_s: float) -> list[State | Reading]:
        """Take one thing that the kernel told."""
        if told.name == self._wired.interface and told.there:
            self._index = told.index
            return await self._take(t_s, told, within_s)
        # Deleted, or it has another name from now on.
        return await self._take(t_s, None, within_s) if told.index == self._index else []

    async def _look(self, t_s: float, within_s: float) -> list[State | Reading]:
        """Ask the kernel for all ports, as no event may have told of ours."""
        try:
            there = await self._tools.off_loop.call(_LOOK_LIMIT_S, interfaces)
        except (OSError, TimeoutError) as fault:
            return self._watch.lost_sight(
                t_s, msg("the kernel does not answer: {why}", why=str(fault)), within_s
            )
        now = there.get(self._wired.interface)
        self._index = now.index if now else 0
        return await self._take(t_s, now, within_s)

    async def _take(
        self, t_s: float, now: Interface | None, within_s: float
    ) -> list[State | Reading]:
        mode: tuple[float | None, str] = (None, "")
        if now is not None and now.carrier:
            mode = await self._tools.off_loop.call(_LOOK_LIMIT_S, mode_of, now.name)
        return self._watch.take(t_s, now, mode, within_s)


def fetch_over(interface: str, url: str, limit_s: float) -> Fetched:
    """Fetch a file over one network port and no other; blocks for at most about `limit_s`.

    Parameters
    ----------
    url : str
        `http://ADDRESS/FILE`; by its address, as the bench asks nobody for names.
    """
    begin_s = monotonic()
    size_bytes = 0
    seen = hashlib.sha256()
    parts = urlsplit(url)

    def broken(why: Message, *, hung: bool = False) -> Fetched:
        return Fetched(size_bytes, monotonic() - begin_s, hung=hung, why=why)

    try:
        with _connected(interface, parts.hostname or "", parts.port or 80, limit_s) as way:
            asked = http.client.HTTPConnection(parts.hostname or "", parts.port, timeout=limit_s)
            asked.sock = way
            asked.request("GET", (parts.path or "/") + (f"?{parts.query}" if parts.query else ""))
            answer = asked.getresponse()
            if answer.status != http.client.OK:
                return broken(
                    msg("it answered {code} {why}", code=answer.status, why=answer.reason)
                )
            while chunk := answer.read(_CHUNK_BYTES):
                size_bytes += len(chunk)
                seen.update(chunk)
            if answer.length:
                size = Amount(answer.length, "B")
                return broken(msg("{size} of it did not come", size=size))
    except TimeoutError:
        return broken(msg("nothing came any more"), hung=True)
    except (OSError, http.client.HTTPException) as fault:
        return broken(just(str(fault) or type(fault).__name__))
    return Fetched(size_bytes, monotonic() - begin_s, sha256=seen.hexdigest())


def _connected(interface: str, host: str, port: int, limit_s: float) -> socket.socket:
    family, kind, *_, there = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
    way = socket.socket(family, kind)
    try:
        way.settimeout(limit_s)
        way.setsockopt(socket.SOL_SOCKET, socket.SO_BINDTODEVICE, interface.encode() + b"\0")
        way.connect(there)
    except OSError:
        way.close()
        raise
    return way


@driver("network", "network_port", NetworkPort)
async def open_network_port(name: str, wired: NetworkPort, tools: Tools) -> NetworkOfBench:
    """Watch the port from now on; it must be there and switched on, the unit need not."""
    call: Any = tools.off_loop.call
    there: dict[str, Interface] = await call(_LOOK_LIMIT_S, interfaces)
    own = there.get(wired.interface)
    if own is None:
        sentence = msg(
            "there is no network interface {name} on this computer; there are {listed}",
            name=wired.interface,
            listed=joined(", ", sorted(there)) if there else msg("none"),
        )
        raise BenchFault(name, sentence)
    if not own.up:
        raise BenchFault(name, off_words(wired.interface))
    bench = NetworkOfBench(name, wired, tools, trio.socket.from_stdlib_socket(open_events()))
    bench.nature = await call(_LOOK_LIMIT_S, nature.of_node, wired.interface, "net")
    bench.address = own.address
    return bench
