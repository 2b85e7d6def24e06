"""Trials of a unit on its supply: starts at the rated limits, and short breaks."""

from collections.abc import Awaitable, Collection, Sequence
from contextlib import aclosing, suppress
from dataclasses import replace
from functools import partial
from typing import Any, cast

import trio

from soak import marks
from soak.checks.base import Bench, Place, Say, beside, first_state
from soak.checks.supply_margin.settings import MOST_TRIES, NAME, SupplyMarginSettings
from soak.errors import BenchFault
from soak.marks import BY_HAND, BY_ITSELF, NEVER, NO_EFFECT
from soak.records import State
from soak.states import (
    BLIND,
    DARK,
    DISTURBED,
    GONE_WITHIN_S,
    PICTURE,
    SHOWS_WITHIN_S,
    lost,
    usual_start_s,
)

_ASKED_EVERY_S = 0.5
"""A supply is asked so often what it gives a unit, s. Our own choice: its own current limit, which
soak does not set, comes and goes."""
_OFF_WITHIN_S = 30.0
"""So long the last off is waited for, whatever else ends, s. Our own choice."""
_NOT_TRIED = ""


class Trials:
    """Trials on one bench."""

    def __init__(
        self, bench: Bench, say: Say, settings: SupplyMarginSettings, place: Place
    ) -> None:
        self._bench = bench
        self._say = say
        self._own = settings
        self._stretch = place.stretch
        self._start_s = usual_start_s(place.model_sheet)
        self._lost = lost("capture", place.model_sheet)
        supply = place.fixture.supply
        assert supply is not None  # else the check was refused
        assert supply.rated is not None
        self._nominal_v = supply.rated.nominal_v

    async def start(self, end: str, volt: float, number: int) -> bool:
        """Start at one voltage, watch the picture, and leave the unit off and nominal.

        Returns
        -------
        bool
            Whether the bench saw all of it; else it shows nothing and may be tried again.
        """
        why = f"{end} voltage, start {number}"
        refused = None
        trial = marks.SupplyTrial(degree=_NOT_TRIED, from_s=self._bench.clock.now_s())
        try:
            if await self._off_for(self._own.off_s, why):
                await self._bench.set_voltage(volt, why)
                trial = await self._watched(self._started(end, number, why))
                if self._own.soft_stop and trial.degree == NO_EFFECT:
                    await self._bench.soft_stop(why)
        except BenchFault as fault:
            refused = fault
            trial = replace(trial, refused=fault.what)
        finally:
            with trio.move_on_after(_OFF_WITHIN_S, shield=True):
                await self._bench.power(False, why=f"{why}: over")
        if trial.degree == BY_HAND:
            trial = replace(trial, degree=await self._by_hand(why))
        seen = await self._seen(replace(trial, end=end, number=number, set_v=volt), trial.from_s)
        if refused is not None:
            raise refused
        return seen

    async def _seen(self, trial: marks.SupplyTrial | marks.ShortBreak, from_s: float) -> bool:
        """Make the mark of a trial that is over; return whether the bench saw all of it."""
        ended_s = self._bench.clock.now_s()
        sources = ("capture", "switch")
        blind = [
            source for source in sources if await self._bench.blind_in(source, from_s, ended_s)
        ]
        self._mark(replace(trial, blind=blind), ended_s)
        return not blind

    async def breaks(self, lengths_s: Sequence[float], first: int) -> None:
        """Break the power of a running unit, again and again."""
        await self._off_for(self._own.off_s, "before short breaks")
        await self._bench.power(True, why="before short breaks")
        await self._bench.wake("before short breaks")
        for number, length_s in enumerate(lengths_s, first):
            for _ in range(MOST_TRIES):
                if await self._first({PICTURE}, within_s=self._own.give_up_s) is None:
                    return  # it does not run: others say so, and a break shows nothing
                fed_v = await self._bench.fed_v()
                await trio.sleep(self._own.apart_s)
                if await self._break(length_s, number, fed_v):
                    break

    async def _watched(self, start: Awaitable[marks.SupplyTrial]) -> marks.SupplyTrial:
        """Return what a start did, and the lowest and highest that its supply gave meanwhile."""
        gave_v: list[float] = []

        async def ask() -> None:
            while True:
                await trio.sleep(_ASKED_EVERY_S)
                with suppress(BenchFault):
                    gave_v.append(await self._bench.fed_v())

        async with beside(ask):
            trial = await start
        if not gave_v:
            return trial
        least_v = min(gave_v)
        most_v = max(gave_v)
        return replace(trial, read_least_v=least_v, read_most_v=most_v, read=len(gave_v))

    async def _started(self, end: str, number: int, why: str) -> marks.SupplyTrial:
        on = await self._bench.power(True, why=why)
        pressed = marks.fact_in(await self._bench.wake(why), marks.ButtonPressed)
        began_s = on.t_s if pressed is None else pressed.from_s
        switched = marks.fact_in(on, marks.PowerChanged)
        trial = marks.SupplyTrial(from_s=on.t_s, degree=_NOT_TRIED)
        if pressed is None and switched is not None:
            trial = replace(trial, within_s=switched.within_s)
        if pressed is not None and pressed.doubtful:
            return trial  # nobody knows when it was pressed
        kind = f"{end} voltage"
        begun = marks.StartBegun(kind=kind, number=number, off_s=self._own.off_s, dwell="timed")
        self._mark(begun, began_s)
        seen = await self._first({PICTURE}, within_s=self._own.give_up_s)
        took_s = self._ended(kind, number, seen, began_s)
        trial = replace(trial, took_s=took_s, read_v=await self._bench.fed_v())
        # A maker's sign comes before the picture and goes again: that is part of the start.
        await trio.sleep_until(began_s + (0.0 if seen is None else self._start_s))
        up = None if seen is None else await self._first({PICTURE}, within_s=self._own.give_up_s)
        if up is None:
            return replace(trial, degree=BY_HAND)
        held_from_s = max(up.t_s, began_s + self._start_s)
        lost = await self._first(self._lost, within_s=self._own.hold_s)
        until_s = lost.t_s if lost else self._bench.clock.now_s()
        trial = replace(trial, held_s=round(until_s - held_from_s, 3), degree=NO_EFFECT)
        if lost is not None:
            again = await self._first({PICTURE}, within_s=self._own.give_up_s)
            degree = BY_HAND if again is None else BY_ITSELF
            trial = replace(trial, degree=degree, lost_to=lost.state)
        return replace(trial, read_end_v=await self._bench.fed_v())

    async def _break(self, length_s: float, number: int, fed_v: float) -> bool:
        bench = self._bench
        why = f"short break {number} of {length_s:g} s"
        seen: list[State] = []
        async with beside(partial(self._keep, seen)):
            from_s = bench.clock.now_s()
            broken_s = await bench.interrupt(length_s, why)
            on_s = bench.clock.now_s()
            lost = await self._among(seen, from_s, DISTURBED, on_s + SHOWS_WITHIN_S)
            back = None
            if lost is not None:
                until_s = on_s + self._own.give_up_s
                back = await self._among(seen, lost.t_s, {PICTURE}, until_s)
        degree = NO_EFFECT if lost is None else BY_ITSELF
        if lost is not None:
            self._started_again(on_s, number, broken_s, back)
            if back is None:
                degree = await self._by_hand(why)
        fact = marks.ShortBreak(
            number=number,
            off_s=round(broken_s, 4),
            asked_s=length_s,
            set_v=self._nominal_v,
            read_v=fed_v,
            from_s=from_s,
            degree=degree,
        )
        return await self._seen(fact, from_s)

    def _started_again(self, on_s: float, number: int, broken_s: float, back: State | None) -> None:
        off_s = round(broken_s, 4)
        dwell = "short break"
        self._mark(marks.StartBegun(kind="quick", number=number, off_s=off_s, dwell=dwell), on_s)
        self._ended("quick", number, back, on_s)

    def _ended(self, kind: str, number: int, seen: State | None, since_s: float) -> float | None:
        """Say how long a start took; return it, s."""
        took_s = None if seen is None else round(max(0.0, seen.t_s - since_s), 4)
        came = seen is not None
        self._mark(marks.StartEnded(kind=kind, number=number, seen=came, took_s=took_s))
        return took_s

    async def _by_hand(self, why: str) -> str:
        """Do at nominal voltage what a hand at the plug would do, and return whether it helps."""
        text = f"{why}: it did not come back"
        off = await self._bench.power(False, why=text)
        await trio.sleep_until(off.t_s + self._own.off_s)
        await self._bench.power(True, why=text)
        await self._bench.wake(why)
        seen = await self._first({PICTURE}, within_s=self._own.give_up_s)
        return NEVER if seen is None else BY_HAND

    async def _off_for(self, off_s: float, why: str) -> bool:
        """Switch off for a while; return whether it was seen to be off, or nobody could see."""
        soft = self._own.soft_stop
        stopped = marks.fact_in(await self._bench.soft_stop(why), marks.SoftStop) if soft else None
        off = await self._bench.power(False, why=why)
        in_order = stopped is not None and bool(stopped.ended)
        gone = None
        if not in_order:
            gone = await self._first(DARK | {BLIND}, within_s=GONE_WITHIN_S)
        if gone is None or gone.state != BLIND:
            seen_off = in_order or gone is not None
            after_s = round(self._bench.clock.now_s() - off.t_s, 3)
            kind = marks.OffProved if seen_off else marks.OffNotProved
            self._mark(kind(by="soft stop" if in_order else "capture", after_s=after_s))
        await trio.sleep_until(off.t_s + off_s)
        return in_order or gone is not None

    async def _first(self, wanted: Collection[str], within_s: float) -> State | None:
        return await first_state(self._bench, "capture", wanted, within_s)

    async def _keep(self, seen: list[State]) -> None:
        async with aclosing(cast(Any, self._bench.follow("capture"))) as records:
            async for record in records:
                if isinstance(record, State):
                    seen.append(record)

    async def _among(
        self, seen: Sequence[State], from_s: float, wanted: Collection[str], until_s: float
    ) -> State | None:
        """Return the first wanted state that began after `from_s`; None if none until `until_s`."""
        while True:
            state = next(
                (state for state in seen if state.t_s > from_s and state.state in wanted), None
            )
            if state is not None or self._bench.clock.now_s() >= until_s:
                return state
            await trio.sleep_until(min(until_s, self._bench.clock.now_s() + 0.1))

    def _mark(self, fact: marks.Fact, t_s: float | None = None) -> None:
        when_s = self._bench.clock.now_s() if t_s is None else t_s
        self._say(marks.mark_of(when_s, fact, self._stretch, NAME))
