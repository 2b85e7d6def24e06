"""A commanded instrument that does not answer: blind, a bench fault, tried until it does."""

from collections.abc import Awaitable, Callable

import trio

from soak.clock import SoakClock
from soak.errors import BenchFault
from soak.marks import BenchFaulted, BenchWell, StateSaid, mark_of, state_of
from soak.records import State
from soak.run.hub import Hub
from soak.states import BLIND

TRY_AGAIN_S = 5.0
"""A commanded or reading instrument that was lost is tried again after so long, s. Our own
choice."""


async def well_again(
    source: str,
    fault: BenchFault,
    harmless: Callable[[], Awaitable[None]],
    hub: Hub,
    clock: SoakClock,
) -> None:
    """Put a lost instrument on record, and return when it answers a harmless command again.

    Parameters
    ----------
    harmless : callable
        A command that may be said at any time: let go, go to rest.
    """
    hub.publish(state_of(clock.now_s(), source, BLIND, StateSaid(why=fault.what)))
    hub.publish(mark_of(clock.now_s(), BenchFaulted(instrument=source, what=fault.what)))
    while True:
        await trio.sleep(TRY_AGAIN_S)
        try:
            await harmless()
            break
        except BenchFault:
            continue
    hub.publish(State(clock.now_s(), source, "seen"))
    hub.publish(mark_of(clock.now_s(), BenchWell(instrument=source)))
