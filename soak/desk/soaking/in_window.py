"""The window of soaks that run: their units, what is asked, what is typed, and signals."""

import signal
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass

import trio

from soak.clock import SoakClock
from soak.derive.events.faults import lost_by
from soak.desk.bench_card import read_bench
from soak.desk.bench_folder import BenchFolder
from soak.desk.orders import Prepared
from soak.desk.soaking.at_the_keys import Commands
from soak.desk.soaking.carrying_out import Running, Watch, Watches
from soak.live.against import Against
from soak.live.cues import Cues, voice
from soak.live.operator import TerminalOperator
from soak.live.prompt import as_wanted
from soak.live.terminal import Terminal
from soak.live.window import Window
from soak.roles import Operator
from soak.run.plan import Plan
from soak.run.so_far import SoFar
from soak.words import msg

_STOPS = {
    "SIGINT": msg("Ctrl-C by the operator"),
    "SIGTERM": msg("the system told soak to end"),
    "SIGHUP": msg("the terminal was closed"),
}
"""Signals that end a soak cleanly, and the reason for the record."""
Soaking = Callable[[Watches], Awaitable[None]]
"""Runs soaks; is told who gets their records."""


@dataclass(frozen=True, slots=True)
class InWindow:
    """Soaks that run in one window.

    Attributes
    ----------
    ask : Operator
        Asks whoever sits before it.
    """

    prepared: Sequence[Prepared]
    clock: SoakClock
    window: Window
    running: Running
    ask: Operator

    @classmethod
    def of(cls, bench: BenchFolder, prepared: Sequence[Prepared], clock: SoakClock) -> "InWindow":
        """Return the window of prepared soaks; nobody sits before one of simulated time."""
        window = Window() if clock.leaping else _window(prepared)
        ask: Operator = as_wanted(window.say)
        if not clock.leaping:
            ask = TerminalOperator(window, by=read_bench(bench).operator)
        return cls(prepared, clock, window, Running(say=window.say), ask)

    def run(self, soaks: Soaking) -> None:
        """Run soaks to their seals; heed signals and what is typed."""

        async def main() -> None:
            async with trio.open_nursery() as nursery:
                nursery.start_soon(heed_signals, self.running, nursery)
                if not self.clock.leaping:
                    nursery.start_soon(self.window.keep)
                await soaks(self._watches)
                nursery.cancel_scope.cancel()

        trio.run(main, clock=self.clock)
        self.window.leave()

    def _watches(self, one: Prepared, plan: Plan, so_far: SoFar) -> Sequence[Watch]:
        soak = one.wanted.soak_id
        speak = None if self.clock.leaping else voice()
        cues = Cues(lost_by(plan.header), self.window, speak=speak)
        terminal = make_terminal(
            one, self.clock, plan, so_far, self.window, ended=lambda: soak in self.running.ended
        )
        return [terminal.watch, cues.watch]


def _window(prepared: Sequence[Prepared]) -> Window:
    commands = Commands({one.wanted.unit.tag: one.folder for one in prepared})
    hint = msg("type: note TEXT, or stop WHY; Ctrl-C stops, too")
    if len(prepared) > 1:
        hint = msg("type: note TAG TEXT, or stop TAG WHY; Ctrl-C stops all")
    return Window(apart=True, heed=commands, hint=hint)


def make_terminal(
    one: Prepared,
    clock: SoakClock,
    plan: Plan,
    so_far: SoFar,
    window: Window,
    ended: Callable[[], bool],
) -> Terminal:
    """Return the screen of one soak."""
    return Terminal(
        unit=one.wanted.unit.tag,
        units={quantity.name: quantity.unit for quantity in plan.header.quantities},
        expected_s={s.stretch.name: s.expected_s for s in plan.stretches if not s.finished},
        utc_now=clock.utc,
        against=Against(plan.header, so_far.up_to),
        window=window,
        now_s=clock.now_s,
        ended=ended,
    )


async def heed_signals(running: Running, nursery: trio.Nursery) -> None:
    """Stop cleanly at the first Ctrl-C; at the second do not wait to see the unit off.

    A signal that is ignored stays so: with `--outlive`, or `nohup`, the soak outlives its terminal.
    """
    known = [getattr(signal, name) for name in _STOPS if hasattr(signal, name)]
    wanted = [number for number in known if signal.getsignal(number) is not signal.SIG_IGN]
    with trio.open_signal_receiver(*wanted) as arriving:
        count = 0
        async for number in arriving:
            count += 1
            if not running.soaks:  # nothing is switched on yet
                nursery.cancel_scope.cancel()
            elif count == 1:
                running.say(msg("stopping: power off, then seal and grade; Ctrl-C again to hurry"))
                running.stop(_STOPS[signal.Signals(number).name])
            else:
                running.hurry()
