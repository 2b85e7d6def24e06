"""Whether a unit still has power when a guard comes to it: asked before it is switched off."""

from contextlib import suppress
from typing import Protocol, runtime_checkable

import trio

from soak.roles import Instrument

_ANSWERS_WITHIN_S = 2.0
"""Off must not wait longer than this for an answer that is for the record only. Our own choice."""


@runtime_checkable
class AskedSwitch(Instrument, Protocol):
    """A switch that can say whether the power is on."""

    async def asked_on(self, channel: str) -> bool:
        """Ask whether the power is on.

        Raises
        ------
        BenchFault
            If it does not answer.
        """
        ...


async def found_on(switch: Instrument | None, channel: str) -> bool | None:
    """Return whether the power is on; None where the switch cannot be asked or does not say."""
    answer: bool | None = None
    with trio.move_on_after(_ANSWERS_WITHIN_S), suppress(Exception):  # off must follow, whatever
        if isinstance(switch, AskedSwitch):
            answer = await switch.asked_on(channel)
    return answer
