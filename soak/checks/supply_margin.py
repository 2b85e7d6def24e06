"""Supply margin: starts at the lowest and highest rated voltage, and short breaks of the supply."""

from collections.abc import Awaitable, Collection, Sequence
from contextlib import aclosing, suppress
from functools import partial
from typing import Annotated, Any, ClassVar, cast

import trio
from pydantic import Field

from soak.checks.base import Bench, Done, Place, Say, beside, first_state
from soak.errors import BenchFault, ScriptError
from soak.quantities import Quantity
from soak.records import Mark, Requirement, Role, State
from soak.rules.core.rule import Plain
from soak.rules.short_breaks import SHORT_BREAKS, BreakTerms
from soak.rules.supply_margin import SUPPLY_MARGIN, End, SupplyTerms
from soak.settings import Seconds, Settings
from soak.states import (
    BLIND,
    DARK,
    DISTURBED,
    GONE_WITHIN_S,
    PICTURE,
    SHOWS_WITHIN_S,
    lost,
    stated_start_limit_s,
    usual_start_s,
)

_MOST_TRIES = 3
"""A trial that the bench did not see all of is tried so often at most. Our own choice, as with the
movements of a servo."""
_ASKED_EVERY_S = 0.5
"""A supply is asked so often what it gives a unit, s. Our own choice: its own current limit, which
soak does not set, comes and goes."""
_OFF_WITHIN_S = 30.0
"""So long the last off is waited for, whatever else ends, s. Our own choice."""
_NOT_TRIED = ""
ENDS: tuple[End, ...] = ("lowest", "highest")
NO_EFFECT = "no effect"
BY_ITSELF = "recovers by itself"
BY_HAND = "needs a hand"
NEVER = "does not recover"


class SupplyMarginSettings(Settings):
    """Settings of the check `supply_margin`; times in s.

    Attributes
    ----------
    starts : int
        So many starts at the lowest, and as many at the highest rated voltage.
    hold_s : float
        So long the picture must hold after each of them.
    off_s : float
        Off-time before each start.
    start_limit_s : float or None
        Longest time to picture; left out: as with other starts.
    give_up_s : float
        A start that shows no picture for so long has failed.
    breaks_s : sequence of float
        Lengths of the short breaks; longer ones are quick starts of `power_cycles`.
    times : int
        So many breaks of each length.
    apart_s : float
        So long from one break to the next, at least.
    soft_stop : bool
        Whether the unit is pressed off before its power is cut, where its button stops it and the
        fixture has what presses; short breaks never are.
    """

    starts: int = Field(default=3, ge=0, le=100)
    hold_s: Seconds = Field(default=60.0, ge=1, le=86400)
    off_s: Seconds = Field(default=20.0, ge=0.1, le=3600)
    start_limit_s: Seconds | None = Field(default=None, gt=0)
    give_up_s: Seconds = Field(default=120.0, gt=0, le=3600)
    breaks_s: Sequence[Annotated[Seconds, Field(ge=0.02, le=2)]] = (0.1, 0.3, 1.0)
    times: int = Field(default=3, ge=1, le=100)
    apart_s: Seconds = Field(default=10.0, ge=1, le=3600)
    soft_stop: bool = True


class SupplyMargin:
    """Try the limits of the unit's supply, never outside what it is rated for.

    Settings of a rated range are tried at both ends; what a trial did is told in four degrees, from
    no effect to one that the unit does not recover from.

    References
    ----------
    IEC 61000-4-11:2020, 5.1 (lowest and highest declared voltage) and 9 (the four degrees, here in
    plain words). Direct current has IEC 61000-4-29 for it; lengths and number are our own choice.
    """

    name: ClassVar[str] = "supply_margin"
    settings: ClassVar[type[Settings]] = SupplyMarginSettings
    needs: ClassVar[frozenset[Role]] = frozenset({"switch", "capture"})
    holds_switch: ClassVar[bool] = True
    ends_by_itself: ClassVar[bool] = True

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, SupplyMarginSettings)
        self._settings, self._place = settings, place

    def sources(self) -> Sequence[str]:
        return self._place.starts_watched_by()

    def quantities(self) -> Sequence[Quantity]:
        return ()

    def requirements(self) -> Sequence[Requirement]:
        """Return the demands.

        Raises
        ------
        ScriptError
            If the switch sets no voltage.
        """
        self._refuse_what_cannot_be_done()
        own = self._settings
        found = [self._start_at(end) for end in ENDS if own.starts]
        if own.breaks_s:
            found.append(self._breaks())
        through_s = self._rides_through_s()
        if any(length_s <= through_s for length_s in own.breaks_s):
            found.append(self._rides_through(through_s))
        return found

    def expected_s(self) -> float:
        own, start_s = self._settings, usual_start_s(self._place.model_sheet)
        starts_s = len(ENDS) * own.starts * (own.off_s + start_s + own.hold_s)
        breaks_s = sum(own.times * (length_s + start_s + own.apart_s) for length_s in own.breaks_s)
        return starts_s + breaks_s + start_s

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        number = 0
        for end, volt in self._ends():
            for _ in range(self._settings.starts):
                number += 1
                for _ in range(_MOST_TRIES if number > done.count else 0):
                    if await self._trial(bench, say).start(end, volt, number):
                        break
        left = [
            length_s for length_s in self._settings.breaks_s for _ in range(self._settings.times)
        ]
        made = max(0, done.count - number)
        left = left[made:]
        if left:
            await self._trial(bench, say).breaks(left, made + 1)

    def _trial(self, bench: Bench, say: Say) -> "_Trial":
        return _Trial(bench, say, self._settings, self._place)

    def _ends(self) -> list[tuple[str, float]]:
        """Return each end of the rated range with the voltage to set there, V."""
        wired = self._place.fixture["switch"]
        rated, clear_v = wired["rated"], wired["accuracy_v"]
        low_v, high_v = rated["lowest_v"] + clear_v, rated["highest_v"] - clear_v
        return [("lowest", round(low_v, 4)), ("highest", round(high_v, 4))]

    def _rides_through_s(self) -> float:
        return float((self._place.model_sheet.get("supply") or {}).get("rides_through_s") or 0.0)

    def _refuse_what_cannot_be_done(self) -> None:
        switch = self._place.fixture.get("switch")
        if switch and not switch.get("sets_voltage"):
            what = (
                "the switch of this fixture sets no voltage; wire a supply that does, with "
                "sets_voltage = true, or take this check out"
            )
            raise ScriptError(self._place.stretch, self.name, what)

    def _start_at(self, end: End) -> Requirement:
        own, wired = self._settings, self._place.fixture.get("switch") or {}
        told = SupplyTerms(
            end=end,
            rated_v=(wired.get("rated") or {}).get(f"{end}_v"),
            accuracy_v=self._accuracy_v(),
            start_limit_s=stated_start_limit_s(self._place.model_sheet, own.start_limit_s),
            hold_s=own.hold_s,
            promised=own.starts,
        )
        return SUPPLY_MARGIN.demand(told, **self._plain(end))

    def _accuracy_v(self) -> float | None:
        accuracy_v = (self._place.fixture.get("switch") or {}).get("accuracy_v")
        return None if accuracy_v is None else float(accuracy_v)

    def _breaks(self) -> Requirement:
        own = self._settings
        told = BreakTerms(
            promised=own.times * len(own.breaks_s),
            lengths_s=tuple(own.breaks_s),
            accuracy_v=self._accuracy_v(),
        )
        return SHORT_BREAKS.demand(told, **self._plain("short breaks"))

    def _rides_through(self, through_s: float) -> Requirement:
        count = sum(length_s <= through_s for length_s in self._settings.breaks_s)
        told = BreakTerms(
            promised=self._settings.times * count,
            no_effect_up_to_s=through_s,
            accuracy_v=self._accuracy_v(),
        )
        return SHORT_BREAKS.demand(told, **self._plain("rides through"))

    def _plain(self, short: str) -> Plain:
        plain = self._place.plain(self.name, short, needs=self.needs)
        return {**plain, "limit": 0.0, "confidence": self._place.confidence}


class _Trial:
    """Trials on one bench."""

    def __init__(
        self, bench: Bench, say: Say, settings: SupplyMarginSettings, place: Place
    ) -> None:
        self._bench, self._say, self._own = bench, say, settings
        self._stretch = place.stretch
        self._start_s = usual_start_s(place.model_sheet)
        self._lost = lost("capture", place.model_sheet)
        self._nominal_v = place.fixture["switch"]["rated"]["nominal_v"]

    async def start(self, end: str, volt: float, number: int) -> bool:
        """Start at one voltage, watch the picture, and leave the unit off and nominal.

        Returns
        -------
        bool
            Whether the bench saw all of it; else it shows nothing and may be tried again.
        """
        why, refused = f"{end} voltage, start {number}", None
        detail: dict[str, Any] = {"degree": _NOT_TRIED, "from_s": self._bench.clock.now_s()}
        try:
            if await self._off_for(self._own.off_s, why):
                await self._bench.set_voltage(volt, why)
                detail = await self._watched(self._started(end, number, why))
                if self._own.soft_stop and detail["degree"] == NO_EFFECT:
                    await self._bench.soft_stop(why)
        except BenchFault as fault:
            refused, detail["refused"] = fault, fault.what
        finally:
            with trio.move_on_after(_OFF_WITHIN_S, shield=True):
                await self._bench.power(False, why=f"{why}: over")
        if detail["degree"] == BY_HAND:
            detail["degree"] = await self._by_hand(why)
        told = {**detail, "end": end, "number": number, "set_v": volt}
        seen = await self._seen("supply trial", told)
        if refused is not None:
            raise refused
        return seen

    async def _seen(self, what: str, told: dict[str, Any]) -> bool:
        """Make the mark of a trial that is over; return whether the bench saw all of it."""
        ended_s, from_s = self._bench.clock.now_s(), float(told["from_s"])
        sources = ("capture", "switch")
        blind = [one for one in sources if await self._bench.blind_in(one, from_s, ended_s)]
        self._mark(what, {**told, **({"blind": blind} if blind else {})}, ended_s)
        return not blind

    async def breaks(self, lengths_s: Sequence[float], first: int) -> None:
        """Break the power of a running unit, again and again."""
        await self._off_for(self._own.off_s, "before short breaks")
        await self._bench.power(True, why="before short breaks")
        await self._bench.wake("before short breaks")
        for number, length_s in enumerate(lengths_s, first):
            for _ in range(_MOST_TRIES):
                if await self._first({PICTURE}, within_s=self._own.give_up_s) is None:
                    return  # it does not run: others say so, and a break shows nothing
                fed = {"set_v": self._nominal_v, "read_v": await self._bench.fed_v()}
                await trio.sleep(self._own.apart_s)
                if await self._break(length_s, number, fed):
                    break

    async def _watched(self, start: Awaitable[dict[str, Any]]) -> dict[str, Any]:
        """Return what a start did, and the lowest and highest that its supply gave meanwhile."""
        gave_v: list[float] = []

        async def ask() -> None:
            while True:
                await trio.sleep(_ASKED_EVERY_S)
                with suppress(BenchFault):
                    gave_v.append(await self._bench.fed_v())

        async with beside(ask):
            told = await start
        if gave_v:
            told |= {"read_least_v": min(gave_v), "read_most_v": max(gave_v), "read": len(gave_v)}
        return told

    async def _started(self, end: str, number: int, why: str) -> dict[str, Any]:
        on = await self._bench.power(True, why=why)
        pressed = await self._bench.wake(why)
        began_s = on.t_s if pressed is None else float(pressed.detail["from_s"])
        told: dict[str, Any] = {"from_s": on.t_s, "took_s": None, "held_s": 0.0}
        if pressed is None:
            told["within_s"] = float(on.detail.get("within_s", 0.0))
        if pressed is not None and pressed.detail["doubtful"]:
            return {**told, "degree": _NOT_TRIED}  # nobody knows when it was pressed
        what: dict[str, Any] = {"kind": f"{end} voltage", "number": number}
        self._mark("start", {**what, "off_s": self._own.off_s, "dwell": "timed"}, began_s)
        seen = await self._first({PICTURE}, within_s=self._own.give_up_s)
        took_s = None if seen is None else round(max(0.0, seen.t_s - began_s), 4)
        self._mark("start ended", {**what, "seen": seen is not None, "took_s": took_s})
        told |= {"took_s": took_s, "read_v": await self._bench.fed_v()}
        # A maker's sign comes before the picture and goes again: that is part of the start.
        await trio.sleep_until(began_s + (0.0 if seen is None else self._start_s))
        up = None if seen is None else await self._first({PICTURE}, within_s=self._own.give_up_s)
        if up is None:
            return {**told, "degree": BY_HAND}
        held_from_s = max(up.t_s, began_s + self._start_s)
        lost = await self._first(self._lost, within_s=self._own.hold_s)
        until_s = lost.t_s if lost else self._bench.clock.now_s()
        told["held_s"] = round(until_s - held_from_s, 3)
        told["degree"] = NO_EFFECT
        if lost is not None:
            again = await self._first({PICTURE}, within_s=self._own.give_up_s)
            told["degree"] = BY_HAND if again is None else BY_ITSELF
            told["lost_to"] = lost.state
        return {**told, "read_end_v": await self._bench.fed_v()}

    async def _break(self, length_s: float, number: int, fed: dict[str, float]) -> bool:
        bench, why = self._bench, f"short break {number} of {length_s:g} s"
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
        told = {"number": number, "off_s": round(broken_s, 4), "asked_s": length_s, **fed}
        return await self._seen("short break", {**told, "from_s": from_s, "degree": degree})

    def _started_again(self, on_s: float, number: int, broken_s: float, back: State | None) -> None:
        what: dict[str, Any] = {"kind": "quick", "number": number}
        self._mark("start", {**what, "off_s": round(broken_s, 4), "dwell": "short break"}, on_s)
        took_s = None if back is None else round(max(0.0, back.t_s - on_s), 4)
        self._mark("start ended", {**what, "seen": back is not None, "took_s": took_s})

    async def _by_hand(self, why: str) -> str:
        """Do at nominal voltage what a hand at the plug would do, and return whether it helps."""
        told = f"{why}: it did not come back"
        off = await self._bench.power(False, why=told)
        await trio.sleep_until(off.t_s + self._own.off_s)
        await self._bench.power(True, why=told)
        await self._bench.wake(why)
        seen = await self._first({PICTURE}, within_s=self._own.give_up_s)
        return NEVER if seen is None else BY_HAND

    async def _off_for(self, off_s: float, why: str) -> bool:
        """Switch off for a while; return whether it was seen to be off, or nobody could see."""
        stopped = await self._bench.soft_stop(why) if self._own.soft_stop else None
        off = await self._bench.power(False, why=why)
        in_order = stopped is not None and stopped.detail["ended"]
        gone = None
        if not in_order:
            gone = await self._first(DARK | {BLIND}, within_s=GONE_WITHIN_S)
        if gone is None or gone.state != BLIND:
            seen_off = in_order or gone is not None
            after_s = round(self._bench.clock.now_s() - off.t_s, 3)
            by = {"by": "soft stop" if in_order else "capture", "after_s": after_s}
            self._mark("off proved" if seen_off else "off not proved", by)
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
            found = next((one for one in seen if one.t_s > from_s and one.state in wanted), None)
            if found is not None or self._bench.clock.now_s() >= until_s:
                return found
            await trio.sleep_until(min(until_s, self._bench.clock.now_s() + 0.1))

    def _mark(self, what: str, detail: dict[str, Any], t_s: float | None = None) -> None:
        when_s = self._bench.clock.now_s() if t_s is None else t_s
        self._say(Mark(when_s, what, self._stretch, SupplyMargin.name, detail))


THE_CHECK = SupplyMargin
