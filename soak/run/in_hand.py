"""A unit in hand: guard, power and button, and all that the bench sees flowing into one hub."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import trio

from soak.clock import SoakClock
from soak.errors import told_of
from soak.instruments import Instruments
from soak.journal.base import Journal
from soak.records import Mark, Observed
from soak.roles import Operator, Question, Watcher
from soak.run.button import PowerButton
from soak.run.guard.guard import Guard, LoopGuard
from soak.run.hub import Hub
from soak.run.plan import Plan
from soak.run.power import Power
from soak.run.pumps import Pumps
from soak.run.questions import Questions, of_unit
from soak.run.so_far import SoFar

_LAST_WORDS_S = 5.0
"""So long the last words of a soak that broke may take, s. Our own choice."""


@dataclass(frozen=True, slots=True)
class Wiring:
    """What a unit is held by.

    Attributes
    ----------
    folder : Path or None
        The soak's folder; None where no inbox is read (simulated time).
    listeners : sequence of callables
        Get every record; for the operator's screen.
    resumed : bool
        Whether an earlier session was cut off: then the unit is off for a while first.
    guard : Guard or None
        A guard in a process of its own; None: the guard lives in this loop.
    host_sleep : (float, float) or None
        In simulated time: when the host falls asleep, and for how long, s.
    so_far : SoFar or None
        What earlier sessions recorded; None: this is the first one.
    left_on_s : float or None
        Since when nobody has guarded a unit that the earlier session left on, s; None: it was off.
    """

    instruments: Instruments
    watcher: Watcher | None
    ask: Operator
    clock: SoakClock
    folder: Path | None = None
    listeners: Sequence[Callable[[Observed], None]] = ()
    resumed: bool = False
    guard: Guard | None = None
    host_sleep: tuple[float, float] | None = None
    so_far: SoFar | None = None
    left_on_s: float | None = None


class InHand:
    """Everything that soaks and proving do with a unit goes through here.

    Parameters
    ----------
    plan : Plan
        Says what is wired and what guards.
    journal : Journal
        Holds header and session already.
    stop : callable
        Ends what is under way: (ended, why).
    """

    def __init__(
        self, plan: Plan, journal: Journal, wiring: Wiring, stop: Callable[[str, str], None]
    ) -> None:
        self.header = plan.header
        self.stop = stop
        self.resumed = wiring.resumed
        self.clock = wiring.clock
        self.instruments = wiring.instruments
        self._watcher = wiring.watcher
        self.hub = Hub(journal, lambda fault: stop("bench fault", told_of(fault)))
        self.guard = _guard(plan, wiring)
        self.power = Power(self.guard, plan.channel, self.hub, clock=self.clock, stop=stop)
        self.button = PowerButton(
            self.instruments.button,
            self.header.model_sheet,
            self.header.fixture,
            hub=self.hub,
            clock=self.clock,
        )
        self.power.wake = self.button.wake
        soak = "" if wiring.folder is None else self.header.soak_id
        self.questions = Questions(
            wiring.ask, self.hub, self.clock, soak, of_unit(self.header.unit)
        )
        for quantity in self.header.quantities:
            self.hub.belongs(quantity.name, quantity.source)
        guard = [] if self.guard is None else [self.guard.observe]
        self.hub.listeners += [*guard, self.button.notice, *wiring.listeners]

    async def ask(self, source: str, question: Question) -> str | float | None:
        """Ask what an instrument worked by hand wants to know; question and answer are recorded."""
        return await self.questions.put(question, "", source)

    def put_on_record(self, mark: Mark) -> None:
        """Record what was asked, or answered, before there was anything to record it."""
        self.hub.publish(mark)

    def flow(self, streams: trio.Nursery) -> None:
        """Start everything that says something by itself, the guard among it."""
        Pumps(self.hub, self.clock).start(streams, self.instruments, self._watcher)
        streams.start_soon(self.power.follow_guard)
        if self.guard is not None:
            streams.start_soon(self.guard.watch)

    async def off(self, why: str, give_up_s: float) -> bool:
        """Switch off for good; return whether the switch answered; so too where there is none."""
        if self.guard is None:
            return True
        answered = await self.guard.end(why, give_up_s)
        self.guard.close()
        with trio.move_on_after(_LAST_WORDS_S):  # nobody listens where the program broke
            await self.power.guard_done.wait()
        return answered


def _guard(plan: Plan, wiring: Wiring) -> Guard | None:
    switch = wiring.instruments.switch
    if wiring.guard is not None or switch is None:
        return wiring.guard
    return LoopGuard(switch, plan.channel, plan.guarding, wiring.clock)
