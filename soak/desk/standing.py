"""Stand a fixture up without a soak: instruments open, streams flowing, ends off."""

from collections.abc import Awaitable, Callable
from dataclasses import dataclass

import trio

from soak.bench.fixture import Fixture
from soak.bench.model_sheet import ModelSheet
from soak.bench.off_loop import off_loop_for
from soak.bench.registry import Tools, open_instruments
from soak.clock import BootClock, LeapingClock, SoakClock
from soak.desk.orders import drivers_for
from soak.desk.sight import make_watcher
from soak.instruments import Instruments
from soak.journal import MemoryJournal
from soak.live.prompt import TerminalOperator, as_wanted
from soak.records import FORMAT, Header
from soak.roles import Ask
from soak.run.asking import Asking
from soak.run.button import PowerButton
from soak.run.guard import LoopGuard
from soak.run.hub import Hub
from soak.run.plan import wired_quantities
from soak.run.power import Power
from soak.run.pumps import Pumps
from soak.run.stand import Stand

_OFF_GIVE_UP_S = 60.0


@dataclass(frozen=True, slots=True)
class Standing:
    """What is stood up; `say` prints a line."""

    fixture: Fixture
    sheet: ModelSheet
    say: Callable[[str], None]


def stand_up(standing: Standing, steps: Callable[[Stand], Awaitable[None]]) -> None:
    """Open the fixture, run the steps, switch off, close; time leaps if it is simulated."""
    simulated = bool(standing.fixture.simulated)
    clock: SoakClock = LeapingClock() if simulated else BootClock()
    ask: Ask = as_wanted(standing.say) if simulated else Asking(TerminalOperator())
    trio.run(_stand, standing, steps, clock, ask, clock=clock)


async def _stand(
    standing: Standing, steps: Callable[[Stand], Awaitable[None]], clock: SoakClock, ask: Ask
) -> None:
    fixture, sheet, say = standing.fixture, standing.sheet, standing.say
    tools = Tools(off_loop_for(clock), ask, clock)
    async with open_instruments(fixture, tools, drivers_for(fixture, 1)) as instruments:
        described = fixture.as_json(instruments)
        hub = Hub(MemoryJournal(_header(described, sheet), clock=clock), lambda _: None)
        channel = fixture.switch.channel if fixture.switch else ""
        guard = _guard(instruments, channel, clock)
        power = Power(guard, channel, hub, clock, lambda how, why: say(f"{how}: {why}"))
        sheet_json, by_hand = sheet.model_dump(mode="json"), not clock.leaping
        button = PowerButton(instruments.button, sheet_json, described, hub, clock)
        hub.listeners.append(button.notice)
        stand = Stand(instruments, described, sheet_json, hub, power, ask, clock, by_hand, button)
        async with trio.open_nursery() as streams:
            Pumps(hub, clock).start(streams, instruments, make_watcher(fixture, sheet))
            streams.start_soon(power.follow_guard)
            try:
                await steps(stand)
            finally:
                with trio.CancelScope(shield=True):
                    if guard is not None and not await guard.end("it is over", _OFF_GIVE_UP_S):
                        say("ALARM: the power could not be switched off; do it by hand")
            streams.cancel_scope.cancel()


def _guard(instruments: Instruments, channel: str, clock: SoakClock) -> LoopGuard | None:
    switch = instruments.switch
    return None if switch is None else LoopGuard(switch, channel, {}, clock)


def _header(fixture: dict[str, object], sheet: ModelSheet) -> Header:
    """Return a header for the journal in memory: nothing of it is kept."""
    return Header(
        FORMAT,
        "standing",
        "standing",
        {},
        sheet.model_dump(mode="json"),
        {},
        fixture,
        tuple(wired_quantities(fixture).values()),
        (),
        {},
        0,
        bool(fixture["simulated"]),
    )
