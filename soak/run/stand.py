"""A fixture stood up without a soak, and what came of one step on it."""

from collections.abc import AsyncIterator, Collection
from contextlib import aclosing
from dataclasses import dataclass
from typing import Any, cast

import trio

from soak.clock import SoakClock
from soak.errors import BenchFault
from soak.frozen.fixture import Fixture
from soak.frozen.sheet import ModelSheet
from soak.instruments import Instruments
from soak.quantities import show_duration
from soak.records import Mark, Reading, State
from soak.roles import Ask
from soak.run.button import PowerButton
from soak.run.hub import Hub
from soak.run.power import Power
from soak.states import SHOWN, patient_start_limit_s

_ON_WITHIN_S = 660.0
"""A hand is asked to switch for 600 s; a board that has not answered by then will not. Our own
choice."""


class NotSwitched(BenchFault):
    """Report a switch, or a hand in its place, that did not switch: no step can be done."""


@dataclass(frozen=True, slots=True)
class Step:
    """What came of one step.

    Attributes
    ----------
    what, seen : str
        What was done, and what the bench saw.
    result : str
        `proved`, `not proved`, or `not done` (no such instrument, nobody there).
    source : str
        The instrument that had to see it.
    smallest_s : float or None
        For a break on cue: the shortest break that was seen, s.
    """

    what: str
    seen: str
    result: str
    source: str
    smallest_s: float | None = None
    challenge: bool = False


@dataclass(frozen=True, slots=True)
class Stand:
    """Everything the steps use."""

    instruments: Instruments
    fixture: Fixture
    model_sheet: ModelSheet
    hub: Hub
    power: Power
    ask: Ask
    clock: SoakClock
    by_hand: bool
    button: PowerButton | None = None

    async def on(self, why: str) -> Mark:
        """Switch on, and press where the model stays off; return when the unit got what it needs.

        The mark's time is that of the switch's answer, or of the press.

        Raises
        ------
        NotSwitched
            If nobody and nothing answers.
        """
        mark: Mark | None = None
        with trio.move_on_after(_ON_WITHIN_S):
            mark = await self.power.set(True, why)
        if mark is None:
            within = show_duration(_ON_WITHIN_S)
            raise NotSwitched("switch", f"did not say within {within} that the unit is on")
        pressed = None if self.button is None else await self.button.wake(why)
        return mark if pressed is None else pressed

    async def shows(self, wanted: Collection[str], within_s: float) -> State | None:
        """Return the first such state of the capture from now on; None after `within_s`."""
        with trio.move_on_after(within_s):
            async with self.following("capture") as records:
                async for record in records:
                    if isinstance(record, State) and record.state in wanted:
                        return record
        return None

    async def started(self) -> State | None:
        """Wait until the unit shows its picture; None if even a slow one would have by now."""
        return await self.shows(SHOWN, patient_start_limit_s(self.model_sheet))

    def following(self, source: str) -> "aclosing[Any]":
        """Return what a source says, to be closed when done."""
        records: AsyncIterator[State | Reading] = self.hub.follow(source)
        return aclosing(cast(Any, records))
