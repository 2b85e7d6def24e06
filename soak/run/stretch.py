"""One stretch: its checks side by side, until it has been observed for long enough."""

import traceback
from dataclasses import replace

import trio

from soak.checks.base import Check, Done
from soak.derive.seeing.coverage import BY_PLAN
from soak.derive.sequential import Decision
from soak.errors import BenchFault
from soak.marks import (
    SWITCH_ON,
    BenchFaulted,
    Fact,
    GoesOn,
    PowerChanged,
    StretchBegins,
    StretchEnds,
    mark_of,
)
from soak.records import Mark, State
from soak.roles import Question
from soak.run.face import BenchFace
from soak.run.in_hand import InHand
from soak.run.observed import ObservedTime
from soak.run.plan import StretchPlan
from soak.run.so_far import SoFar
from soak.run.stop_rule import StopRule, rule_of
from soak.words import Message, msg

_SWITCH_ON = Question(
    SWITCH_ON, msg("Switch the unit on now; it must stay on. Is it on?"), "done", wait_s=300.0
)
_IS_IT_ON = Question(
    SWITCH_ON,
    msg(
        "The soak was cut off meanwhile. Is the unit on? If it is not, switch it on; it must stay "
        "on."
    ),
    "done",
    wait_s=300.0,
)
_NOBODY = msg(
    "nobody confirmed that the unit was switched on; run it again and answer at the terminal, or "
    "with `soak answer`"
)

_SILENT_AT_MOST_S = 10.0
"""After so long without a record the journal is told that the stretch still runs, s: what was
observed since the last record is lost in a crash. Our own choice."""


_RESTS_S = 30.0
"""Off-time after a start by which a plan rejected, and of a unit pressed off before, s. Common
practice."""


class RunningStretch:
    """Run one stretch; `end_early` ends it at the operator's wish."""

    def __init__(self, plan: StretchPlan, hand: InHand, so_far: SoFar) -> None:
        self._plan = plan
        self._hand = hand
        self._early = trio.Event()
        sources = sorted({source for check in plan.checks for source in check.sources()})
        name = plan.stretch.name
        own = hand.header.requirements
        powered = plan.needs_power
        self._so_far = so_far
        self.observed = ObservedTime(
            name, sources, so_far, hub=hand.hub, clock=hand.clock, powered=powered
        )
        self._rule = rule_of(name, own, so_far, hand.clock) if plan.checks else None
        self._decided = StretchEnds()

    def end_early(self) -> None:
        """End the stretch; what is missing will be not shown."""
        self._early.set()

    async def run(self, not_after_s: float) -> str:
        """Return why it ended: `done`, `not after`, `skipped`, `accepted by plan`, ..."""
        plan = self._plan
        hand = self._hand
        self._mark(self._begins())
        hand.hub.listeners.append(self._notice)
        because = "stopped"
        try:
            with trio.move_on_at(not_after_s) as limit:
                decided = self._decided_before()
                if not decided and hand.power.wired and await hand.button.settle():
                    await self._rest_off("the stretch before ended amid a press of the button")
                if not decided and plan.needs_power and not plan.holds_switch:
                    await self._power_on()
                because = decided or await self._until_done_or_early()
                if because == BY_PLAN[1] and plan.holds_switch:
                    await self._rest_off(BY_PLAN[1])
            if limit.cancelled_caught:
                because = "not after"
        finally:
            hand.hub.listeners.remove(self._notice)
            seen_s = round(self.observed.total_s(), 3)
            self._mark(replace(self._decided, because=because, observed_s=seen_s))
        return because

    async def _power_on(self) -> None:
        """Switch on, or without a switch have the operator do it, once."""
        power = self._hand.power
        stretch = self._plan.stretch.name
        if power.wired:
            await power.set(True, f"stretch {stretch}")
            await self._hand.button.wake(f"stretch {stretch}", stretch)
        elif not power.is_on:
            question = _IS_IT_ON if self._hand.resumed else _SWITCH_ON
            if not question.agreed(await self._hand.questions.put(question, stretch, "")):
                self._hand.stop("bench fault", _NOBODY)
                await trio.lowlevel.checkpoint()  # nothing of the stretch begins
                return
            power.is_on = True
            self._mark(PowerChanged(on=True, why="by hand: no switch is wired"))

    async def _until_done_or_early(self) -> str:
        because = "skipped"

        async def all_done() -> None:
            nonlocal because
            await self._checks()
            because = "done"
            nursery.cancel_scope.cancel()

        async def by_plan(rule: StopRule) -> None:
            nonlocal because
            because = self._ended_by(await rule.decided())
            nursery.cancel_scope.cancel()

        async with trio.open_nursery() as nursery:
            nursery.start_soon(all_done)
            nursery.start_soon(self._say_that_it_goes_on)
            if self._rule is not None:
                nursery.start_soon(by_plan, self._rule)
            await self._early.wait()
            nursery.cancel_scope.cancel()
        return because

    async def _rest_off(self, why: str) -> None:
        """Switch off for a while: a plan rejects at a failed start, and the next stretch needs one
        that works.
        """
        await self._hand.power.set(False, why)
        await trio.sleep(_RESTS_S)

    def _decided_before(self) -> str:
        """Return how the plan had decided when an earlier session was cut off; empty if not."""
        if self._rule is None or not self._hand.resumed:
            return ""
        found = self._rule.look()
        return "" if found.decided == "undecided" else self._ended_by(found)

    def _ended_by(self, found: Decision) -> str:
        """Keep what the plan decided for the record, and return why the stretch ends."""
        self._decided = StretchEnds(at=found.at, failures=found.failures)
        return f"{found.decided} by plan"

    async def _say_that_it_goes_on(self) -> None:
        hand = self._hand
        while True:
            due_s = max(hand.hub.latest_s, hand.clock.now_s() - _SILENT_AT_MOST_S)
            await trio.sleep_until(due_s + _SILENT_AT_MOST_S)
            if hand.clock.now_s() - hand.hub.latest_s > _SILENT_AT_MOST_S - 1e-3:
                self._mark(GoesOn())

    async def _checks(self) -> None:
        """Return when every check that ends has ended and the time has been observed."""
        async with trio.open_nursery() as going_on:
            async with trio.open_nursery() as ending:
                for check in self._plan.checks:
                    nursery = ending if check.ends_by_itself else going_on
                    nursery.start_soon(self._measure, check)
            await self.observed.reached(self._plan.stretch.lasts_s)
            going_on.cancel_scope.cancel()

    async def _measure(self, check: Check) -> None:
        hand = self._hand
        bench = BenchFace(check, self._plan.stretch.name, hand, self._so_far)
        done = self._plan.done.get(check.name, Done())
        try:
            await check.measure(bench, done, hand.hub.publish)
        except BenchFault as fault:
            self._fault(fault.instrument, fault.what)
        except Exception as bug:
            where = traceback.extract_tb(bug.__traceback__)[-1]
            self._fault(
                f"check {check.name}",
                msg("it broke: {bug} (line {line})", bug=repr(bug), line=where.lineno or 0),
            )
            told = msg("the check {check} broke: {bug}", check=check.name, bug=repr(bug))
            hand.stop("bench fault", told)

    def _fault(self, instrument: str, what: Message) -> None:
        self._mark(BenchFaulted(instrument=instrument, what=what))

    def _begins(self) -> StretchBegins:
        return StretchBegins(
            observed_s=round(self.observed.total_s(), 3) if self._hand.resumed else 0.0,
            count={name: entry.count for name, entry in self._plan.done.items()},
            skipped=dict(self._plan.skipped),
            checks=[check.name for check in self._plan.checks],
        )

    def _mark(self, fact: Fact) -> None:
        self._hand.hub.publish(mark_of(self._hand.clock.now_s(), fact, self._plan.stretch.name))

    def _notice(self, record: object) -> None:
        if isinstance(record, State):
            self.observed.notice(record)
        if self._rule is not None and isinstance(record, State | Mark):
            self._rule.notice(record)
