"""Carry out prepared soaks: open, run, seal; several units side by side."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import trio

from soak import __version__
from soak.bench.fixture import check_claims
from soak.bench.off_loop import off_loop_for
from soak.bench.registry import Tools
from soak.clock import SoakClock
from soak.desk.clip import with_clip
from soak.desk.guarding import Guarded, opened
from soak.desk.orders import Prepared
from soak.desk.sight import as_asked, make_watcher
from soak.errors import BenchFault, SoakError
from soak.journal import create, first_session
from soak.records import Observed
from soak.roles import Operator
from soak.run.asking import Asking
from soak.run.soak import Ended, Soak, Wiring

Watch = Callable[[Observed], None]


@dataclass(slots=True)
class Running:
    """Soaks that run now, so that Ctrl-C can reach them; and how they ended."""

    soaks: list[Soak] = field(default_factory=list)
    ended: dict[str, Ended] = field(default_factory=dict)

    def stop(self, why: str) -> None:
        """End them all."""
        for soak in self.soaks:
            soak.stop("stopped", why)

    def hurry(self) -> None:
        """End them all at once: off, sealed, without waiting to see them off."""
        for soak in self.soaks:
            soak.hurry()


async def soak_all(
    prepared: Sequence[Prepared],
    clock: SoakClock,
    ask: Operator,
    running: Running,
    watches: Callable[[Prepared], Sequence[Watch]],
    began: Callable[[Prepared], None] = lambda _: None,
) -> None:
    """Run all soaks side by side; how each ended stands in `running.ended` by soak id.

    Raises
    ------
    FixtureError
        If two units share a port and channel.
    """
    check_claims([one.fixture for one in prepared])
    async with trio.open_nursery() as nursery:
        for one in prepared:
            nursery.start_soon(_soak_one, one, clock, ask, running, watches(one), began)


async def _soak_one(
    prepared: Prepared,
    clock: SoakClock,
    ask: Operator,
    running: Running,
    watches: Sequence[Watch],
    began: Callable[[Prepared], None],
) -> None:
    """Run one soak; an instrument that does not open ends this one and not its neighbours."""
    soak_id = prepared.wanted.soak_id
    try:
        running.ended[soak_id] = await _run(prepared, clock, ask, running, watches, began)
    except SoakError as fault:
        running.ended[soak_id] = Ended("bench fault", str(fault), "")


async def _run(
    prepared: Prepared,
    clock: SoakClock,
    ask: Operator,
    running: Running,
    watches: Sequence[Watch],
    began: Callable[[Prepared], None],
) -> Ended:
    asking = Asking(ask)
    tools = Tools(off_loop_for(clock), asking, clock)
    ended: Ended | None = None
    drivers, hands = prepared.simulated()
    try:
        async with opened(prepared.fixture, tools, drivers, guarded(prepared)) as (
            instruments,
            guard,
        ):
            plan = prepared.plan(prepared.fixture.as_json(instruments))
            plain = as_asked(make_watcher(prepared.fixture, prepared.sheet), prepared.script)
            watcher = with_clip(plain, prepared.script)
            journal = create(
                prepared.folder, plan.header, first_session(__version__, clock), clock=clock
            )
            began(prepared)
            inbox = _inbox(prepared, clock)
            wiring = Wiring(
                instruments,
                watcher,
                ask,
                clock,
                inbox,
                [*watches, *hands],
                guard=guard,
                host_sleep=prepared.host_sleep(),
            )
            soak = Soak(plan, journal, wiring)
            running.soaks.append(soak)
            asking.soak = soak
            try:
                ended = await soak.run()
            finally:
                journal.close()
    except BenchFault:
        if ended is None:
            raise
    assert ended is not None  # the soak ran to its seal; what did not close afterwards is no matter
    return ended


def guarded(prepared: Prepared) -> Guarded:
    """Return what the guard is told of a soak."""
    guarding = prepared.plan(prepared.fixture.as_json()).guarding
    return Guarded(prepared.wanted.soak_id, prepared.folder, guarding)


def _inbox(prepared: Prepared, clock: SoakClock) -> Any:
    """Make the inbox; in simulated time there is nobody to write into it."""
    if clock.leaping:
        return None
    (prepared.folder / "inbox").mkdir(parents=True, exist_ok=True)
    return prepared.folder
