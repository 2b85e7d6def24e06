"""Stand a fixture up without a soak: instruments open, streams flowing, ends off."""

from collections.abc import Awaitable, Callable
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

import trio

from soak.clock import BootClock, LeapingClock, SoakClock
from soak.derive.seeing.proved import WARMS_WITHIN_S
from soak.desk.orders import drivers_for
from soak.desk.soaking.guarding import Guarded, opened
from soak.desk.soaking.in_use import in_use, of_fixture
from soak.desk.soaking.sight import make_watcher
from soak.errors import BenchFault
from soak.frozen.fixture import Fixture
from soak.frozen.references import References
from soak.frozen.sheet import ModelSheet
from soak.frozen.unit import UnitStated
from soak.journal import MemoryJournal
from soak.live.operator import TerminalOperator
from soak.live.prompt import as_wanted
from soak.live.terminal import by_guard
from soak.live.window import Window
from soak.records import Observed
from soak.roles import Operator, Question
from soak.run.asking import Asking
from soak.run.in_hand import InHand, Wiring
from soak.run.plan import Plan, Wanted, make_plan
from soak.run.script import Script, ScriptHead
from soak.run.stand import Stand
from soak.words import Tell, msg

_OFF_GIVE_UP_S = 60.0
_NO_STRETCH = Script("", ScriptHead(name="stand up", not_after=86400.0), ())
"""What a fixture that is only stood up is planned by: nothing but what is wired to it."""


class Patient:
    """Asks for instruments read by hand once, and waits: no soak goes on meanwhile."""

    def __init__(self, hand: InHand) -> None:
        self._hand = hand
        self.put_on_record = hand.put_on_record

    async def ask(self, source: str, question: Question) -> str | float | None:
        """Return the answer, or None if nobody answered while a unit would have warmed."""
        wait_s = max(question.wait_s, WARMS_WITHIN_S)
        return await self._hand.ask(source, replace(question, wait_s=wait_s))


@dataclass(frozen=True, slots=True)
class Standing:
    """What is stood up.

    Attributes
    ----------
    bench : Path
        The folder of the bench's soaks, which its guard serves.
    say : callable
        Prints a line.
    verb : str
        What stands it up, `"soak prove"`.
    """

    fixture: Fixture
    sheet: ModelSheet
    bench: Path
    say: Tell
    verb: str

    def plan(self, fixture: Fixture) -> Plan:
        """Return the plan on the opened fixture."""
        unit = UnitStated(model=self.sheet.model)
        simulated = bool(self.fixture.simulated)
        wanted = Wanted(
            "standing",
            "standing",
            unit,
            model_sheet=self.sheet,
            fixture=fixture,
            references=References(),
            seed=0,
            simulated=simulated,
        )
        return make_plan(_NO_STRETCH, wanted, {})


def stand_up(standing: Standing, steps: Callable[[Stand], Awaitable[None]]) -> None:
    """Open the fixture, run the steps, switch off, close; time leaps if it is simulated.

    Raises
    ------
    BenchFault
        If an instrument does not open, or the guard ended it: nothing more may be done then.
    UsageError
        If a soak uses the fixture.
    """
    simulated = bool(standing.fixture.simulated)
    clock: SoakClock = LeapingClock() if simulated else BootClock()
    ask: Operator = as_wanted(standing.say) if simulated else TerminalOperator(Window())
    used = in_use(standing.bench, of_fixture(standing.fixture), standing.verb)
    with used, TemporaryDirectory() as folder:
        trio.run(_stand, standing, steps, clock, ask, Path(folder), clock=clock)


async def _stand(
    standing: Standing,
    steps: Callable[[Stand], Awaitable[None]],
    clock: SoakClock,
    ask: Operator,
    folder: Path,
) -> None:
    fixture = standing.fixture
    sheet = standing.sheet
    say = standing.say
    walking = trio.CancelScope()
    ended = list[str]()

    def stop(how: str, why: str) -> None:
        ended.append(why)
        walking.cancel()

    guarding = standing.plan(fixture).guarding
    guarded = Guarded(
        f"standing-{fixture.name}", standing.bench, folder, guarding=guarding, say=say
    )
    asking = Asking(ask, clock)
    async with opened(
        fixture, drivers_for(fixture, 1), guarded, asking=asking, clock=clock
    ) as guard:
        plan = standing.plan(guard.fixture)

        def tell(record: Observed) -> None:
            if words := by_guard(record):
                say(words)

        watcher = make_watcher(fixture, sheet)
        wiring = Wiring(guard.instruments, watcher, ask, clock, listeners=[tell], guard=guard.guard)
        journal = MemoryJournal(plan.header, clock=clock)
        hand = InHand(plan, journal, wiring, stop)
        asking.go_through(Patient(hand))
        stand = Stand(
            instruments=hand.instruments,
            fixture=plan.header.fixture,
            model_sheet=plan.header.model_sheet,
            hub=hand.hub,
            power=hand.power,
            ask=lambda question: hand.ask("by hand", question),
            clock=clock,
            by_hand=not clock.leaping,
            button=hand.button,
        )
        async with trio.open_nursery() as streams:
            hand.flow(streams)
            try:
                with walking:
                    await steps(stand)
            finally:
                with trio.CancelScope(shield=True):
                    if not await hand.off("it is over", _OFF_GIVE_UP_S):
                        say(msg("ALARM: the power could not be switched off; do it by hand"))
            streams.cancel_scope.cancel()
    if ended:
        raise BenchFault("bench", msg("stopped: {ended}", ended=ended[0]))
