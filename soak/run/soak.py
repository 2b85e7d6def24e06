"""One soak from the first record to the seal: whatever happens, it ends off and on record."""

import math
from contextlib import aclosing
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, cast

import trio

from soak import marks
from soak.clock import LeapingClock
from soak.errors import JournalError, told_of
from soak.instruments import WATCHES
from soak.journal.base import Journal
from soak.records import Json, Mark, Observed, State
from soak.roles import Question
from soak.rules.answered import ANSWERED
from soak.run import told
from soak.run.after_trip import AfterTrip
from soak.run.guard.found_on import found_on
from soak.run.host import watch_host
from soak.run.in_hand import InHand, Wiring
from soak.run.inbox import Request, given, requests
from soak.run.plan import Plan, StretchPlan
from soak.run.so_far import SoFar
from soak.run.stretch import RunningStretch
from soak.run.witness import hangs_up, last_witnesses
from soak.states import ALIVE, DARK, GONE_WITHIN_S, patient_start_limit_s
from soak.words import Message, msg

_OFF_GIVE_UP_S = 120.0
"""So long the last off is tried, s; then a person is called. Our own choice."""
_OFF_AFTER_RESUME_S = 30.0
"""Off-time before a resumed soak goes on, where the script switches nothing (common practice)."""
_IN_ORDER_AT_MOST_S = 2400.0
"""A last soft stop takes at most so long, whatever is lost meanwhile, s. Our own choice."""

HowEnded = Literal["complete", "stopped", "bench fault"]


@dataclass(frozen=True, slots=True)
class Ended:
    """How a soak ended.

    Attributes
    ----------
    sha256 : str
        Of the sealed journal; empty if it could not be sealed.
    asked : bool
        Whether a person, or the system, asked it to end.
    written : bool
        Whether the journal took all that there was to write.
    """

    how: HowEnded
    why: str
    sha256: str
    asked: bool = False
    written: bool = True


class Soak:
    """Walk the stretches of a plan.

    Parameters
    ----------
    plan : Plan
    journal : Journal
        Holds header and session already.
    """

    def __init__(self, plan: Plan, journal: Journal, wiring: Wiring) -> None:
        self._plan = plan
        self._journal = journal
        self._wiring = wiring
        self._clock = wiring.clock
        self._walking = trio.CancelScope()
        self._proving = trio.CancelScope()
        self._in_order = trio.CancelScope()
        self._reading_on = trio.CancelScope()
        self._how: HowEnded = "complete"
        self._why = ""
        self._asked = False
        self._running: RunningStretch | None = None
        self._sees = True
        self._starting_since_s: float | None = None
        self._was_on = False
        self._so_far = wiring.so_far or SoFar(plan.header)
        self._hand = InHand(plan, journal, wiring, self.stop)
        self._hub = self._hand.hub
        self._power = self._hand.power
        self._button = self._hand.button
        self._after_trip = AfterTrip(plan.header.fixture)
        self._hub.listeners += [self._heed, self._after_trip.notice, self._so_far.keep]

    def stop(self, how: str, why: str) -> None:
        """End the soak; the first reason counts."""
        if not self._why:
            self._how = cast(HowEnded, how)
            self._why = why
        self._walking.cancel()

    def asked_to_stop(self, why: str) -> None:
        """End the soak because a person, or the system, says so."""
        self._asked = self._asked or not self._why
        self.stop("stopped", why)

    async def ask(self, source: str, question: Question) -> str | float | None:
        """Ask what an instrument worked by hand wants to know; question and answer are recorded."""
        return await self._hand.ask(source, question)

    def put_on_record(self, mark: Mark) -> None:
        """Record what was asked, or answered, before the soak began."""
        self._hand.put_on_record(mark)

    def note(self, text: str, by: str, detail: dict[str, Any]) -> None:
        """Put the operator's word on record."""
        now_s = self._clock.now_s()
        from_s = max(0.0, now_s - float(detail.get("ago_s", 0.0)))
        was_me = bool(detail.get("was_me"))
        noted = marks.Noted(text=text, by=by, was_me=was_me, from_s=from_s, to_s=now_s)
        self._hub.publish(marks.mark_of(now_s, noted))

    def hurry(self) -> None:
        """Leave at once: the power goes off all the same, and nobody waits to see it off."""
        self.asked_to_stop("left at once")
        self._proving.cancel()
        self._in_order.cancel()
        self._reading_on.cancel()

    async def run(self) -> Ended:
        """Run to the end; return how it ended. Cancelled from outside, it still ends off."""
        async with trio.open_nursery() as outside:
            outside.start_soon(self._stop_when_cancelled)
            # Streams and guard must outlive a cancellation: off is commanded and seen through them.
            with trio.CancelScope(shield=True):
                ended = await self._run()
            outside.cancel_scope.cancel()
        return ended

    async def _stop_when_cancelled(self) -> None:
        try:
            await trio.sleep_forever()
        finally:
            self.stop("stopped", "cancelled")

    async def _run(self) -> Ended:
        async with trio.open_nursery() as streams:
            self._start_streams(streams)
            try:
                with self._walking:
                    await self._walk()
            finally:  # also where the program itself broke
                self._sees = trio.current_effective_deadline() > -math.inf  # streams still run
                with trio.CancelScope(shield=True):
                    await self._end_off()
                    await self._read_on()
            streams.cancel_scope.cancel()
        return await self._seal()

    def _start_streams(self, streams: trio.Nursery) -> None:
        self._hand.flow(streams)
        if self._wiring.folder is not None:
            streams.start_soon(self._read_inbox, self._wiring.folder)
        if self._wiring.host_sleep is not None and isinstance(self._clock, LeapingClock):
            streams.start_soon(self._sleep_host, self._clock, *self._wiring.host_sleep)
        if not self._clock.leaping:
            streams.start_soon(watch_host, self._clock, self._hub.publish, self._woke)

    async def _walk(self) -> None:
        first_unattended = True
        self._say_who_sees_off()
        if self._wiring.resumed and self._power.wired:
            with trio.move_on_at(self._plan.not_after_s):
                await self._off_first()
                await trio.sleep(self._off_dwell_s())
        for stretch in self._plan.stretches:
            if stretch.finished:
                continue
            if not stretch.stretch.attended and first_unattended:
                self._hub.publish(marks.mark_of(self._clock.now_s(), marks.OperatorLeft()))
                first_unattended = False
            if await self._run_one(stretch) == "not after":
                return

    async def _off_first(self) -> None:
        """Switch off before anything else, and tell of a unit that was left on with no guard."""
        left_on_s = self._wiring.left_on_s
        channel = None
        if left_on_s is not None:
            channel = await found_on(self._wiring.instruments.switch, self._plan.channel)
        off = await self._power.set(False, "resumed: off first")
        if left_on_s is not None:
            unguarded = marks.Unguarded(from_s=left_on_s, by="resume", found_on=channel)
            self._hub.publish(marks.mark_of(off.t_s, unguarded))

    def _off_dwell_s(self) -> float:
        """Return the script's own off-time, the longest where it has several, s."""
        checks = [entry.checks for entry in self._plan.header.script.stretches]
        offs_s = [check["power_cycles"]["off_s"] for check in checks if "power_cycles" in check]
        return max(offs_s, default=_OFF_AFTER_RESUME_S)

    async def _run_one(self, stretch: StretchPlan) -> str:
        self._running = RunningStretch(stretch, self._hand, self._so_far)
        try:
            return await self._running.run(self._plan.not_after_s)
        finally:
            self._running = None

    async def _end_off(self) -> None:
        """Switch off, prove it, and call a person where that failed."""
        if self._why:
            stopped = marks.Stopped(how=self._how, why=self._why, by="soak")
            self._hub.publish(marks.mark_of(self._clock.now_s(), stopped))
        if not self._power.wired:
            self._remind_to_switch_off()
            return
        was_on = self._power.is_on
        was_dark = self._is_dark()
        in_order = await self._stop_in_order()
        if not await self._hand.off(self._why or "the soak is over", _OFF_GIVE_UP_S):
            self._alarm(told.NOT_OFF)
            return
        if in_order:  # seen to go off before the cut, so the cut itself shows nothing more
            self._hub.publish(marks.mark_of(self._clock.now_s(), marks.OffProved(by="soft stop")))
            return
        dark_before = was_dark and was_on
        with self._proving:
            await self._prove_off(dark_before)
        if self._proving.cancelled_caught:
            self._alarm(msg("off was commanded and nobody waited to see it; look at the unit"))

    async def _read_on(self) -> None:
        """Read on after a trip, while streams still run and nobody hurries."""
        if self._sees:
            with self._reading_on:
                await self._after_trip.seen()

    async def _stop_in_order(self) -> bool:
        """Press the unit off before the last cut, where nothing hurries; return whether it went."""
        if self._how != "complete" or not self._power.is_on:
            return False
        mark = None
        with self._in_order, trio.move_on_after(_IN_ORDER_AT_MOST_S):
            mark = await self._button.soft_stop("the soak is over")
        stop = marks.fact_in(mark, marks.SoftStop)
        return stop is not None and stop.ended is True

    def _remind_to_switch_off(self) -> None:
        if self._power.is_on:
            why = msg("no switch is wired: the unit is still on; switch it off by hand")
            self._hub.publish(marks.mark_of(self._clock.now_s(), marks.HandNeeded(why=why)))

    def _is_dark(self) -> bool:
        state = self._hub.state("capture")
        return state is not None and state.state in DARK

    async def _prove_off(self, dark_before: bool) -> None:
        # What was dark with power on proves nothing by being dark without.
        seen = "unseen" if dark_before else await self._capture_goes_dark()
        by = "capture" if seen == "dark" else ""
        if seen == "unseen":
            by = await self._goes_elsewhere()
        if by:
            self._hub.publish(marks.mark_of(self._clock.now_s(), marks.OffProved(by=by)))
            return
        alive = marks.OffNotProved(
            by="capture" if seen == "alive" else "nothing", after_s=GONE_WITHIN_S
        )
        self._hub.publish(marks.mark_of(self._clock.now_s(), alive))
        if seen == "alive":
            self._alarm(told.STILL_ALIVE)
        elif self._could_see_off():
            self._alarm(msg("nothing saw whether the unit is off; look at it"))

    def _could_see_off(self) -> bool:
        """Tell whether anything is wired that can see a unit go off."""
        seers = last_witnesses(self._hub, self._plan.header.fixture)
        return bool(seers) or self._wiring.instruments.capture is not None

    def _say_who_sees_off(self) -> None:
        """Say once of a bench that cannot see it, when something can still be done about that."""
        if self._power.wired and not self._could_see_off():
            needed = marks.HandNeeded(why=told.UNSEEN)
            self._hub.publish(marks.mark_of(self._clock.now_s(), needed))

    async def _capture_goes_dark(self) -> str:
        """Return `dark`, `alive` or `unseen`."""
        if self._wiring.instruments.capture is None or not self._sees:
            return "unseen"
        latest = "unseen"
        if self._starting_since_s is not None:
            # A unit that was still starting is dark whether off or not: see whether it comes up.
            limit_s = patient_start_limit_s(self._plan.header.model_sheet)
            await trio.sleep_until(self._starting_since_s + limit_s)
        with trio.move_on_after(GONE_WITHIN_S):
            async with aclosing(cast(Any, self._hub.follow("capture"))) as records:
                async for record in records:
                    if isinstance(record, State) and record.state in DARK:
                        return "dark"
                    if isinstance(record, State):
                        latest = "alive" if record.state in ALIVE else "unseen"
        return latest

    async def _goes_elsewhere(self) -> str:
        """Return what saw the unit go off where no capture does; empty if nothing did."""
        fixture = self._plan.header.fixture
        starting = self._starting_since_s is not None
        for witness in last_witnesses(self._hub, fixture):
            unsure = starting if witness.source in WATCHES else False
            unsure = unsure or (witness.source == "link" and hangs_up(fixture))
            if not unsure and await witness.sees(False, GONE_WITHIN_S) is not None:
                return witness.source
        return ""

    async def _seal(self) -> Ended:
        sha256 = ""
        with trio.CancelScope(shield=True):
            try:
                sha256 = await self._journal.seal(self._how, self._guard_log())
            except JournalError as fault:
                self._how = "bench fault"
                self._why = self._why or told_of(fault)
        written = bool(sha256) and self._hub.fault is None
        return Ended(self._how, self._why, sha256, asked=self._asked, written=written)

    def _guard_log(self) -> Json:
        guard = self._hand.guard
        return {} if guard is None else guard.log()

    def _alarm(self, why: Message) -> None:
        self._hub.publish(marks.mark_of(self._clock.now_s(), marks.Alarm(why=why)))

    def _heed(self, record: Observed) -> None:
        """End the soak when the operator gave an answer that rules the unit out; note starts."""
        answered = marks.fact_in(record, marks.Answered)
        if answered is not None and isinstance(record, Mark) and record.check == "look":
            self._heed_look(answered)
        self._notice_start(record)

    def _notice_start(self, record: Observed) -> None:
        """Know since when a unit that has power has not shown a picture."""
        if power := marks.fact_in(record, marks.PowerChanged):
            if power.on and not self._was_on:
                self._starting_since_s = record.t_s
            self._was_on = power.on
        if isinstance(record, State) and record.source == "capture" and record.state in ALIVE:
            self._starting_since_s = None
        if self._wiring.instruments.capture is None and _is_seen(record, "link"):
            self._starting_since_s = None

    def _heed_look(self, answered: marks.Answered) -> None:
        try:
            asked = list(ANSWERED.among(self._plan.header.requirements))
        except JournalError as fault:  # nobody knows what was wanted: no power on that
            self.stop("stopped", told_of(fault))
            return
        wanted = {need.quantity: terms.wanted for need, terms in asked}
        answer = answered.answer
        question = answered.id
        if answer is None:
            self.stop("bench fault", told.unanswered(question))
        elif answer != wanted.get(question, answer):
            self.stop("stopped", told.unwanted(question, answer))

    async def _sleep_host(self, clock: LeapingClock, at_s: float, for_s: float) -> None:
        """Let the simulated host sleep as the scene says, and notice it as on a real one."""
        await trio.sleep_until(at_s)
        clock.sleep_host(for_s)
        self._hub.publish(marks.mark_of(clock.now_s(), marks.HostSlept(for_s=round(for_s, 1))))
        self._woke(for_s)

    def _woke(self, slept_s: float) -> None:
        """After a sleep of the host nothing is known: off first, the soak ends as a bench fault."""
        self.stop("bench fault", told.slept(slept_s))

    async def _read_inbox(self, folder: Path) -> None:
        async with aclosing(cast(Any, requests(folder))) as arriving:
            async for request in arriving:
                self._obey(request)

    def _obey(self, request: Request) -> None:
        detail = dict(request.detail)
        if request.what == "stop":
            self.asked_to_stop(str(detail.get("why") or f"stopped by {request.by}"))
        elif request.what == "note":
            self.note(str(detail.pop("text", "")), request.by, detail)
        elif request.what == "end stretch" and self._running is not None:
            self._running.end_early()
        elif request.what == "answer":
            self._hand.questions.answered(*given(request))


def _is_seen(record: Observed, source: str) -> bool:
    return isinstance(record, State) and (record.source, record.state) == (source, "seen")
