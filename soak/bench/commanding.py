"""Commanding a switch until it answers as it should, or saying clearly that it did not."""

from collections.abc import Awaitable, Callable

import trio

from soak.bench.readings import Refused
from soak.errors import BenchFault, told_of
from soak.words import NOTHING_SAID, counted

_PAUSE_S = 0.3
"""From one try of a command to the next, s. Our own choice."""


async def commanded(
    name: str, what: str, tries: int, attempt: Callable[[], Awaitable[None]]
) -> None:
    """Run `attempt` until it succeeds, at most `tries` times.

    Only for commands that may be said twice (on, off; never toggle).

    Parameters
    ----------
    name : str
        The switch.
    what : str
        What was commanded, for the message: `"on, channel 1"`.

    Raises
    ------
    BenchFault
        If no attempt succeeded: the last reason.
    """
    why = NOTHING_SAID
    for number in range(tries):
        if number:
            await trio.sleep(_PAUSE_S)
        try:
            return await attempt()
        except Refused as refusal:
            why = told_of(refusal)
        except BenchFault as fault:
            why = fault.what
    raise BenchFault(
        name,
        counted(
            tries,
            "commanded {what}: {why}; look at the switch and its cable",
            "commanded {what} ({count} tries): {why}; look at the switch and its cable",
            what=what,
            why=why,
        ),
    )
