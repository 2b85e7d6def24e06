"""A bench that plays what a test says, and records what a check does to it."""

from collections.abc import AsyncIterator, Callable, Sequence
from contextlib import aclosing

import numpy as np
import trio

from soak.checks.base import Check, Done
from soak.clock import LeapingClock
from soak.errors import BenchFault
from soak.records import Mark, Observed, Reading, State
from soak.roles import Question

Record = State | Reading


class ScriptedBench:
    """Fills `checks.base.Bench`: streams are functions of what was commanded.

    Parameters
    ----------
    streams : mapping of source to function
        Given the bench, an asynchronous iterator of what the source says.
    answers : mapping of question id to answer
        What the operator says; a question that is not there is not answered.
    """

    def __init__(
        self,
        clock: LeapingClock,
        streams: dict[str, Callable[["ScriptedBench"], AsyncIterator[Record]]] | None = None,
        answers: dict[str, str] | None = None,
    ) -> None:
        self.clock, self._streams, self._answers = clock, streams or {}, answers or {}
        self.random = np.random.default_rng(1)
        self.told: list[tuple[float, bool]] = []
        self.asked: list[Question] = []
        self.said: list[Observed] = []
        self.switched = trio.Event()
        self.blind: list[bool] = []

    @property
    def is_on(self) -> bool:
        """The last command."""
        return bool(self.told) and self.told[-1][1]

    async def follow(self, source: str) -> AsyncIterator[Record]:
        if source in self._streams:
            async with aclosing(self._streams[source](self)) as records:
                async for record in records:
                    yield record

    async def blind_in(self, source: str, from_s: float, to_s: float) -> bool:
        return self.blind.pop(0) if self.blind else False

    async def power(self, on: bool, why: str = "") -> Mark:
        now_s = self.clock.now_s()
        self.told.append((now_s, on))
        self.switched.set()
        self.switched = trio.Event()
        return Mark(now_s, "power", detail={"on": on, "why": why})

    async def soft_stop(self, why: str = "") -> Mark | None:
        return None

    async def wake(self, why: str = "", *, anyway: bool = False) -> Mark | None:
        return None

    async def move(self, movement: str, lasts_s: float) -> bool:
        raise BenchFault("servo", "no servo here")

    def stick(self, name: str = "stick") -> object:
        raise BenchFault(name, "no stick here")

    async def ask(self, question: Question) -> str | float | None:
        self.asked.append(question)
        await trio.sleep(1.0)
        return self._answers.get(question.id)

    def marks(self, what: str) -> Sequence[Mark]:
        """Return the marks of one kind that the check made."""
        return [one for one in self.said if isinstance(one, Mark) and one.what == what]


def measured(
    check: Check,
    streams: dict[str, Callable[[ScriptedBench], AsyncIterator[Record]]] | None = None,
    answers: dict[str, str] | None = None,
    done: Done | None = None,
    stop_after_s: float = 1e6,
) -> ScriptedBench:
    """Let a check measure to its end, or for `stop_after_s`; return the bench."""
    clock = LeapingClock()
    found = []

    async def main() -> None:
        bench = ScriptedBench(clock, streams, answers)
        found.append(bench)
        with trio.move_on_after(stop_after_s):
            await check.measure(bench, done or Done(), bench.said.append)

    trio.run(main, clock=clock)
    return found[0]
