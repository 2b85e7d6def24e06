"""Carry out prepared soaks: open, run, seal; several units side by side."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import trio

from soak import __version__
from soak.bench.fixture import check_claims
from soak.clock import SoakClock
from soak.desk.orders import Prepared
from soak.desk.proof.clip import with_clip
from soak.desk.soaking.guarding import Guarded, opened
from soak.desk.soaking.sight import as_asked, make_watcher
from soak.errors import BenchFault, SoakError, Stopped
from soak.frozen.fixture import Fixture
from soak.journal import Writer, create, first_session
from soak.journal.faults import writing_fault
from soak.judge.believed import what_it_is
from soak.natures import NO_INSTRUMENT, nature_of
from soak.records import Observed
from soak.roles import Operator
from soak.run.asking import Asking
from soak.run.in_hand import Wiring
from soak.run.plan import Plan
from soak.run.questions import of_unit
from soak.run.so_far import SoFar
from soak.run.soak import Ended, Soak
from soak.words import Tell, msg

Watch = Callable[[Observed], None]
Watches = Callable[[Prepared, Plan, SoFar], Sequence[Watch]]
"""Returns who gets every record of a soak: for the operator's screen."""


@dataclass(slots=True)
class Running:
    """Soaks that run now, so that Ctrl-C can reach them; and how they ended.

    Attributes
    ----------
    say : callable
        Prints a line for the operator.
    """

    soaks: list[Soak] = field(default_factory=list)
    ended: dict[str, Ended] = field(default_factory=dict)
    say: Tell = lambda _: None

    def stop(self, why: str) -> None:
        """End them all."""
        for soak in self.soaks:
            soak.asked_to_stop(why)

    def hurry(self) -> None:
        """End them all at once: off, sealed, without waiting to see them off."""
        for soak in self.soaks:
            soak.hurry()


@dataclass(frozen=True, slots=True)
class Begins:
    """How a session of a soak begins: anew, or where an earlier one was cut off.

    Attributes
    ----------
    plan : callable
        Returns the plan on the opened fixture.
    journal : callable
        Returns the journal for a plan's header, ready for records.
    session : int
        Number of the session, from 1.
    so_far : SoFar or None
        What earlier sessions recorded, where a plan may end a stretch early.
    left_on_s : float or None
        Since when nobody has guarded a unit that the earlier session left on, s; None: it was off.
    """

    plan: Callable[[Fixture], Plan]
    journal: Callable[[Plan], Writer]
    session: int = 1
    so_far: SoFar | None = None
    left_on_s: float | None = None


async def soak_all(
    prepared: Sequence[Prepared],
    clock: SoakClock,
    ask: Operator,
    running: Running,
    watches: Watches,
    began: Callable[[Prepared], None] = lambda _: None,
) -> None:
    """Run all soaks side by side; how each ended stands in `running.ended` by soak id.

    Raises
    ------
    FixtureError
        If two units share a port and channel.
    """
    check_claims([soak.fixture for soak in prepared])
    async with trio.open_nursery() as nursery:
        for ready in prepared:
            nursery.start_soon(_soak_one, ready, clock, ask, running, watches, began)


async def _soak_one(
    prepared: Prepared,
    clock: SoakClock,
    ask: Operator,
    running: Running,
    watches: Watches,
    began: Callable[[Prepared], None],
) -> None:
    """Run one soak; an instrument that does not open ends this one and not its neighbours."""

    def journal(plan: Plan) -> Writer:
        made = create(prepared.folder, plan.header, first_session(__version__, clock), clock=clock)
        began(prepared)
        return made

    try:
        await run_session(
            prepared,
            Begins(prepared.plan, journal),
            clock,
            ask=ask,
            running=running,
            watches=watches,
        )
    except SoakError as fault:
        asked = isinstance(fault, Stopped)
        running.ended[prepared.wanted.soak_id] = Ended("bench fault", fault.told, "", asked)


async def run_session(
    prepared: Prepared,
    begins: Begins,
    clock: SoakClock,
    ask: Operator,
    running: Running,
    watches: Watches,
) -> None:
    """Open the fixture, run a session to its seal, close; it stands in `running.ended`.

    Raises
    ------
    BenchFault
        If an instrument does not open.
    """
    drivers, hands = prepared.simulated()
    ended = running.ended
    inbox = _inbox(prepared, clock)
    asking = Asking(ask, clock, inbox, of_unit(prepared.wanted.unit))
    try:
        tell = guarded(prepared, running.say)
        async with opened(prepared.fixture, drivers, tell, asking=asking, clock=clock) as bench:
            for line in _proves_nothing(bench.fixture):
                running.say(msg("{tag}  MIND: {line}", tag=prepared.wanted.unit.tag, line=line))
            plan = begins.plan(bench.fixture)
            plain = make_watcher(prepared.fixture, prepared.sheet, begins.session)
            watcher = with_clip(as_asked(plain, prepared.script), prepared.script)
            journal = begins.journal(plan)
            so_far = begins.so_far or SoFar(plan.header)
            wiring = Wiring(
                bench.instruments,
                watcher,
                ask,
                clock=clock,
                folder=inbox,
                listeners=[*watches(prepared, plan, so_far), *hands],
                resumed=begins.session > 1,
                guard=bench.guard,
                host_sleep=prepared.host_sleep() if begins.session == 1 else None,
                so_far=so_far,
                left_on_s=begins.left_on_s,
            )
            soak = Soak(plan, journal, wiring)
            running.soaks.append(soak)
            asking.go_through(soak)
            try:
                ended[prepared.wanted.soak_id] = await soak.run()
            finally:
                journal.close()
    except BenchFault:
        # Of what ran to its seal it is no matter what did not close afterwards.
        if prepared.wanted.soak_id not in ended:
            raise


def _proves_nothing(fixture: Fixture) -> list[str]:
    """Say of each instrument that is none what it is, before a night is spent on it."""
    return [
        msg("{what}: what it shows proves nothing", what=what_it_is(fixture, source))
        for source in fixture.wired
        if nature_of(fixture, source) in NO_INSTRUMENT
    ]


def guarded(prepared: Prepared, say: Tell) -> Guarded:
    """Return what the guard is told of a soak."""
    guarding = prepared.plan(prepared.fixture).guarding
    folder = prepared.folder
    return Guarded(prepared.wanted.soak_id, folder.parent, folder, guarding=guarding, say=say)


def _inbox(prepared: Prepared, clock: SoakClock) -> Path | None:
    """Make the inbox; in simulated time there is nobody to write into it."""
    if clock.leaping:
        return None
    try:
        (prepared.folder / "inbox").mkdir(parents=True, exist_ok=True)
    except OSError as fault:
        raise writing_fault(prepared.folder / "inbox", fault) from None
    return prepared.folder
