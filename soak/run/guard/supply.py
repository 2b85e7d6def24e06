"""The guard's hand on a supply that can be set: sets, returns to nominal, breaks, measures."""

from collections.abc import Awaitable, Callable
from dataclasses import replace

import trio

from soak.clock import SoakClock
from soak.errors import BenchFault
from soak.marks import HandNeeded, VoltageSet, mark_of
from soak.records import Mark, Observed
from soak.roles import Supply, Switch
from soak.run.guard.step import GuardState
from soak.words import NOTHING_SAID, Message, msg

_TRIES = 3
"""A voltage that the supply does not confirm is set so often. Our own choice."""
_PAUSE_S = 1.0
"""From one such try to the next, s. Our own choice."""


class Feeding:
    """Set one channel of a supply; a switch that is none refuses in one sentence.

    Parameters
    ----------
    say : callable
        Takes what is for the record and for people.
    """

    def __init__(
        self, switch: Switch, channel: str, clock: SoakClock, say: Callable[[Observed], None]
    ) -> None:
        self._switch = switch
        self._channel = channel
        self._clock = clock
        self._say = say

    @property
    def settable(self) -> bool:
        """Whether it is a supply that can be set."""
        return isinstance(self._switch, Supply)

    def known_to(self, state: GuardState) -> GuardState:
        """Return the state of a guard that knows what this supply is and may give."""
        if not isinstance(self._switch, Supply):
            return state
        of = self._switch
        return replace(
            state, nominal_v=of.nominal_v, highest_v=of.highest_v, accuracy_v=of.accuracy_v
        )

    def needed(self) -> Supply:
        """Return the switch, known to be such a supply.

        Raises
        ------
        BenchFault
            If it sets no voltage.
        """
        if isinstance(self._switch, Supply):
            return self._switch
        raise BenchFault("switch", msg("sets no voltage; a supply with sets_voltage = true does"))

    async def obey(self, order: VoltageSet) -> Mark:
        """Set the voltage once; return the mark of what the supply answered.

        Raises
        ------
        BenchFault
            If it did not take it.
        """
        said_v = await plainly(self.needed().set_voltage, self._channel, order.volt)
        fact = replace(order, said_v=said_v, channel=self._channel, back=False)
        return mark_of(self._clock.now_s(), fact)

    async def restore(self, order: VoltageSet) -> Mark | None:
        """Return the supply to nominal; None where it does not go there, which is said aloud."""
        what = NOTHING_SAID
        for attempt in range(_TRIES):
            if attempt:
                await trio.sleep(_PAUSE_S)
            try:
                return await self.obey(order)
            except BenchFault as fault:
                what = fault.what
        self._say(mark_of(self._clock.now_s(), HandNeeded(why=not_nominal(what))))
        return None

    async def interrupt(self, for_s: float) -> float:
        """Break the power; return for how long, s.

        Raises
        ------
        BenchFault
            If the supply did not confirm that it is on again.
        """
        return await plainly(self.needed().interrupt, self._channel, for_s)

    async def fed_v(self) -> float:
        """Measure what the supply gives, V.

        Raises
        ------
        BenchFault
            If it did not answer, or sets no voltage.
        """
        return await plainly(self.needed().fed_v, self._channel)


async def plainly(ask: Callable[..., Awaitable[float]], *args: str | float) -> float:
    """Call a driver; whatever breaks in it is a fault of the switch."""
    try:
        return await ask(*args)
    except BenchFault:
        raise
    except Exception as bug:
        raise BenchFault("switch", msg("the driver broke: {bug}", bug=repr(bug))) from bug


def not_nominal(what: Message) -> Message:
    """Say that a supply stands at a voltage that is not the unit's nominal one."""
    return msg(
        "the power is off, and the supply did not go back to the nominal voltage ({what}); "
        "set it by hand before anything is wired to it",
        what=what,
    )
