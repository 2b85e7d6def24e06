"""Ending a stretch when its sequential plan has decided."""

from collections.abc import Sequence

import trio

from soak.clock import SoakClock
from soak.derive.course import course_of
from soak.derive.sequential import SETTLE_S, Decision, decide, frozen_carried, plan_of
from soak.marks import StartEnded, fact_in
from soak.records import Observed, Requirement, State
from soak.run.so_far import SoFar
from soak.statistics.plans import StartsPlan
from soak.terms import counted_by

_LOOKS_EVERY_S = 10.0
"""While the picture is lost nothing more counts; looking oftener would tell nothing new, s. Our own
choice."""


class StopRule:
    """Follow the plan of one requirement by the same functions as the judgement."""

    def __init__(self, requirement: Requirement, so_far: SoFar, clock: SoakClock) -> None:
        self._requirement = requirement
        self._so_far = so_far
        self._clock = clock
        self._counts_starts = isinstance(plan_of(requirement), StartsPlan)
        self._news = trio.Event()

    def notice(self, record: Observed) -> None:
        """Wake when a start was watched to its end, or the picture changed."""
        started = fact_in(record, StartEnded) is not None
        seen = isinstance(record, State) and record.source == self._requirement.quantity
        if started or (seen and not self._counts_starts):
            self._news.set()

    def look(self) -> Decision:
        """Say how far the plan has come."""
        now_s = self._clock.now_s()
        course = course_of(self._so_far.up_to(now_s))
        before = frozen_carried(self._requirement, course)
        return decide(self._requirement, course, now_s - SETTLE_S, before)

    async def decided(self) -> Decision:
        """Return when the plan has decided."""
        while True:
            decision = self.look()
            if decision.decided != "undecided":
                return decision
            if self._counts_starts:
                await self._next()
            else:
                with trio.move_on_after(max(decision.lacks, _LOOKS_EVERY_S)):
                    await self._next()
                    await trio.sleep(SETTLE_S)

    async def _next(self) -> None:
        await self._news.wait()
        self._news = trio.Event()


def rule_of(
    stretch: str, requirements: Sequence[Requirement], so_far: SoFar, clock: SoakClock
) -> StopRule | None:
    """Return the rule that may end a stretch early; None where it has no plan."""
    own = (need for need in requirements if need.stretch == stretch and counted_by(need).plan)
    requirement = next(own, None)
    if requirement is None:
        return None
    return StopRule(requirement, so_far, clock)
