"""The stand-in's end of the network: tells benches that know the key what the unit does."""

from collections.abc import Callable, Mapping
from typing import Any

import trio

from soak.bench.stand_in.gadget_state import Glimpse
from soak.bench.stand_in.gadget_watch import GadgetWatch, Status
from soak.bench.stand_in.lines import Lines
from soak.bench.stand_in.words import EVERY_S, VERSION, Unfit, heard, line, nonce, proof, proved
from soak.words import Amount, Message, Tell, joined, msg

LOOK_EVERY_S = 0.02
"""Enumeration takes a unit 100 ms and more (USB 2.0, 7.1.7.3: 100 ms debounce after connection)."""
_GREET_LIMIT_S = 5.0
"""Who connects has so long to show the key, s. Our own choice."""
_SEND_LIMIT_S = 5.0
"""A bench has so long to take what is said, s; then it is let go. Our own choice."""
MOST_BENCHES = 4


class StandIn:
    """Looks at the port, and serves benches.

    Parameters
    ----------
    look : callable
        Looks at the port once; raises OSError when it is gone.
    key : bytes
        The shared key.
    identity : mapping
        What the stand-in is, as plain JSON.
    say : callable
        Told in words what happens.
    """

    def __init__(
        self,
        look: Callable[[], Glimpse],
        key: bytes,
        identity: Mapping[str, Any],
        *,
        may_sleep: bool = False,
        say: Tell = lambda _: None,
    ) -> None:
        self._look = look
        self._key = key
        self._identity = dict(identity)
        self._say = say
        self._watch = GadgetWatch(may_sleep=may_sleep)
        self._status: Status | None = None
        self._changed = trio.Event()
        self._benches = 0

    async def watch(self) -> None:
        """Look for ever.

        Raises
        ------
        OSError
            If the port is no longer there.
        """
        while True:
            now = self._watch.take(trio.current_time(), self._look())
            if _differs(now, self._status):
                self._say(_in_words(now))
                changed = self._changed
                self._changed = trio.Event()
                self._status = now
                changed.set()
            self._status = now
            await trio.sleep(LOOK_EVERY_S)

    async def serve(self, stream: trio.SocketStream) -> None:
        """Serve one bench until it leaves."""
        async with stream:
            try:
                if self._benches >= MOST_BENCHES:
                    await stream.send_all(line(refused="busy"))
                    return
                self._benches += 1
                try:
                    if await self._greet(stream):
                        await self._tell(stream)
                finally:
                    self._benches -= 1
            except (trio.BrokenResourceError, trio.ClosedResourceError, trio.TooSlowError, Unfit):
                return  # a bench that leaves, stalls or babbles is no matter to the others

    async def _greet(self, stream: trio.SocketStream) -> bool:
        with trio.fail_after(_GREET_LIMIT_S):
            challenge = nonce()
            await stream.send_all(line(soak_stand_in=VERSION, challenge=challenge))
            said = heard(await Lines(stream).next())
            if said.get("soak_bench") != VERSION:
                await stream.send_all(line(refused="version", soak_stand_in=VERSION))
                return False
            theirs = str(said.get("nonce", ""))[:64]
            if not theirs or not proved(
                said.get("proof"), self._key, "bench", theirs=challenge, own=theirs
            ):
                self._say(msg("a bench with another key was turned away"))
                await stream.send_all(line(refused="key"))
                return False
            own = proof(self._key, "stand-in", theirs, challenge)
            await stream.send_all(line(proof=own, identity=self._identity))
        return True

    async def _tell(self, stream: trio.SocketStream) -> None:
        """Say the status at every change, and each second to show that somebody is there."""
        while True:
            changed = self._changed
            if self._status is not None:
                with trio.fail_after(_SEND_LIMIT_S):
                    await stream.send_all(line(**self._status.as_json(trio.current_time())))
            with trio.move_on_after(EVERY_S):
                await changed.wait()


async def serve_stand_in(
    stand_in: StandIn,
    address: str,
    port: int,
    task_status: trio.TaskStatus[int] = trio.TASK_STATUS_IGNORED,
) -> None:
    """Watch and serve until cancelled; reports the port it listens on.

    Raises
    ------
    OSError
        If it cannot listen there, or the USB port is gone.
    """
    listeners = await trio.open_tcp_listeners(port, host=address)
    async with trio.open_nursery() as nursery:
        nursery.start_soon(stand_in.watch)
        task_status.started(int(listeners[0].socket.getsockname()[1]))
        await trio.serve_listeners(stand_in.serve, listeners)


def _differs(now: Status, before: Status | None) -> bool:
    if before is None:
        return True
    compared = ("at", "udc", "speed_mbps", "enumerations", "resets")
    return any(getattr(now, name) != getattr(before, name) for name in compared)


def _in_words(now: Status) -> Message:
    has = msg("{port}: the unit has not the stick", port=now.udc)
    if now.at == "seen":
        has = msg("{port}: the unit has the stick", port=now.udc)
    if now.speed_mbps:
        has = msg("{stick} at {speed}", stick=has, speed=Amount(now.speed_mbps, "Mb/s"))
    counts = msg(
        "{enumerations} enumerations, {resets} resets",
        enumerations=now.enumerations,
        resets=now.resets,
    )
    moved = None if now.read_bytes is None else msg("{count} B read", count=now.read_bytes)
    return joined("; ", [has, joined(", ", [counts, moved])])
