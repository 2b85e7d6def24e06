"""Pumps: from what the instruments stream into the hub, for as long as the soak runs."""

from collections.abc import AsyncIterator, Callable
from contextlib import aclosing
from functools import partial
from typing import Any, cast

import trio

from soak.clock import SoakClock
from soak.errors import BenchFault
from soak.frozen.wiring import role_of
from soak.instruments import ROLES, Instruments
from soak.marks import BenchFaulted, StateSaid, mark_of, said_by, state_of
from soak.records import KeptFile, State
from soak.roles import Seen, Watcher
from soak.run.hub import Hub
from soak.run.lost import TRY_AGAIN_S
from soak.states import BLIND


class Pumps:
    """Start a task for each streaming instrument."""

    def __init__(self, hub: Hub, clock: SoakClock) -> None:
        self._hub = hub
        self._clock = clock

    def start(
        self, nursery: trio.Nursery, instruments: Instruments, watcher: Watcher | None
    ) -> None:
        """Start them all; what does not stream is said to be seen."""
        for source, instrument in instruments.by_source().items():
            streams = ROLES[role_of(source)].streams
            if streams is None:
                self._hub.publish(State(self._clock.now_s(), source, "seen"))
            else:
                nursery.start_soon(self._pump, source, partial(streams, instrument, watcher))

    async def _pump(self, source: str, stream: Callable[[], AsyncIterator[Seen]]) -> None:
        """Pump one stream; one that breaks goes blind and is asked again."""
        while True:
            try:
                async with aclosing(cast(Any, stream())) as records:
                    async for record in records:
                        self._take(record)
                why = "the stream ended"
            except BenchFault as fault:
                why = fault.what
            except Exception as bug:
                why = f"the driver broke: {bug!r}"
            self._blind(source, why)
            await trio.sleep(TRY_AGAIN_S)

    def _take(self, record: Seen) -> None:
        if isinstance(record, tuple):
            kept, data = record
            assert isinstance(kept, KeptFile)
            self._hub.keep(kept, data)
        else:
            self._hub.publish(record)

    def _blind(self, source: str, why: str) -> None:
        latest = self._hub.state(source)
        if latest is not None and latest.state == BLIND and said_by(latest).why == why:
            return
        now_s = self._clock.now_s()
        self._hub.publish(state_of(now_s, source, BLIND, StateSaid(why=why)))
        self._hub.publish(mark_of(now_s, BenchFaulted(instrument=source, what=why)))
