"""After a trip the bench reads on: only what comes next tells a hot unit from a garbled reading."""

import math

import trio

from soak.frozen.fixture import Fixture
from soak.marks import Tripped, fact_in
from soak.records import Observed, Reading, State
from soak.states import BLIND

READINGS = 2
"""One reading shows whether the spot is still hot, the next whether it stays where that was. Our
own choice."""
_AT_MOST_S = 60.0
"""So long is read on after a trip at most, s: who waits for it wants to go on. Our own choice."""
_USUAL_SILENT_S = 10.0
"""Taken for `silent_after_s` where a probe does not say it, s: its default. Our own choice."""


class AfterTrip:
    """Count what the probe that tripped the guard reads afterwards.

    Parameters
    ----------
    fixture : Json
        What is wired: after how long a probe that says nothing is blind.
    """

    def __init__(self, fixture: Fixture) -> None:
        self._fixture = fixture
        self._source = ""
        self._since_s = math.inf
        self._readings = 0
        self._enough = trio.Event()

    def notice(self, record: Observed) -> None:
        """Take every record."""
        trip = fact_in(record, Tripped)
        if trip is not None and not self._source:
            self._source = trip.source
            self._since_s = record.t_s
        elif isinstance(record, Reading) and record.quantity == self._source:
            self._readings += record.t_s > self._since_s
        blind = isinstance(record, State) and (record.source, record.state) == (self._source, BLIND)
        if self._readings >= READINGS or blind:
            self._enough.set()

    async def seen(self) -> None:
        """Return once enough was read after a trip, or no more will come; at once without one."""
        if self._source:
            silent_s = self._fixture.own(self._source).silent_after_s
            with trio.move_on_after(min(READINGS * (silent_s or _USUAL_SILENT_S), _AT_MOST_S)):
                await self._enough.wait()
