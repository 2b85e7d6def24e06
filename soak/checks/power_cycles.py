"""Power cycles: warm and cold starts, off proved, time to picture."""

from collections.abc import Iterator, Sequence
from typing import ClassVar

import trio
from pydantic import Field

from soak.checks.base import Bench, Done, Place, Say, first_state, look, needed
from soak.checks.cooling import cooled
from soak.errors import Mistake, ScriptError
from soak.marks import (
    BY_HAND,
    BY_ITSELF,
    NEVER,
    NO_EFFECT,
    START_BY_EYE,
    ButtonPressed,
    Fact,
    OffNotProved,
    OffProved,
    ShortBreak,
    SoftStop,
    StartBegun,
    StartEnded,
    fact_in,
    mark_of,
)
from soak.mistakes import fit
from soak.quantities import Quantity
from soak.records import Json, Mark, Requirement, Role
from soak.roles import Question
from soak.rules.by_eye import STARTS_BY_EYE, EyeTerms, gone_words, start_words, there_words
from soak.rules.by_plan import STARTS_BY_PLAN
from soak.rules.core.rule import Plain
from soak.rules.heat_cycles import HEAT_CYCLES, HeatCycleTerms
from soak.rules.short_breaks import SHORT_BREAKS, BreakTerms
from soak.rules.soft_stops import SOFT_STOPS, SoftStopTerms
from soak.rules.starts import OFF_PROVED, STARTS, OffTerms
from soak.settings import Seconds, Settings
from soak.states import (
    BLIND,
    DARK,
    DISTURBED,
    GONE_WITHIN_S,
    PICTURE,
    SHOWS_WITHIN_S,
    start_limit,
    stated_start_limit_s,
)
from soak.terms import StartTerms
from soak.words import Message, msg


class PowerCyclesSettings(Settings):
    """Settings of the check `power_cycles`; times in s.

    Attributes
    ----------
    warm : int
        Number of starts after a short off.
    cold : int
        Number of starts after cooling down.
    quick : int
        Number of knocked plugs, which are breaks of a random length.
    quick_off_low_s : float
        Shortest break of a knocked plug.
    quick_off_high_s : float
        Longest break of a knocked plug.
    heat_cycles : int
        So many times a spot must heat up and cool down by `heat_range_k`.
    heat_range_k : float
        So far a spot goes up and down in a heat-and-cool cycle, at least.
    off_s : float
        Off-time of a warm cycle.
    on_s : float
        On-time of a warm cycle.
    cold_within_k : float
        A cold start begins when the hottest spot is within so many K of ambient.
    cold_off_at_most_s : float
        A cold start begins after so long an off-time, however warm the unit still is.
    cold_on_s : float
        On-time after a cold start: long enough to heat up.
    start_limit_s : float or None
        Longest time to picture; the model sheet's if that is shorter. Where neither states
        one it is made from the usual time.
    give_up_s : float
        A start that shows no picture for so long has hung.
    failed_allowed : int
        Failed starts allowed.
    off_within_s : float
        So soon after off the picture must be gone.
    by_eye : bool
        Whether, where no capture is wired, the operator is asked of each start whether the picture
        came; only in an attended stretch. Knocked plugs are not made then.
    eye_wait_s : float
        How long to wait for each such answer.
    soft_stop : bool
        Whether the unit is pressed off before its power is cut, where the model sheet says that its
        button stops it and the fixture has what presses. Knocked plugs never are.
    """

    warm: int = Field(default=0, ge=0, le=10_000)
    cold: int = Field(default=0, ge=0, le=1_000)
    quick: int = Field(default=0, ge=0, le=10_000)
    quick_off_low_s: Seconds = Field(default=0.2, ge=0.05, le=60)
    quick_off_high_s: Seconds = Field(default=2.0, ge=0.05, le=60)
    heat_cycles: int = Field(default=0, ge=0, le=1_000)
    heat_range_k: float = Field(default=20.0, gt=0)
    off_s: Seconds = Field(default=30.0, ge=0.1)
    on_s: Seconds = Field(default=60.0, ge=1)
    cold_within_k: float = Field(default=3.0, gt=0)
    cold_off_at_most_s: Seconds = Field(default=1800.0, gt=0)
    cold_on_s: Seconds = Field(default=900.0, gt=0)
    start_limit_s: Seconds | None = Field(default=None, gt=0)
    give_up_s: Seconds = Field(default=180.0, gt=0)
    failed_allowed: int = Field(default=0, ge=0)
    off_within_s: Seconds = Field(default=GONE_WITHIN_S, gt=0)
    by_eye: bool = False
    eye_wait_s: Seconds = Field(default=120.0, gt=0)
    soft_stop: bool = True

    @fit
    def _shortest_first(self) -> Iterator[Mistake]:
        if self.quick_off_high_s < self.quick_off_low_s:
            yield Mistake(
                "", msg("quick_off_high_s is shorter than quick_off_low_s; exchange them")
            )


class PowerCycles:
    """Switch the unit off and on, and watch each start to its end."""

    name: ClassVar[str] = "power_cycles"
    settings: ClassVar[type[Settings]] = PowerCyclesSettings
    needs: ClassVar[frozenset[Role]] = frozenset({"switch", "capture"})
    holds_switch: ClassVar[bool] = True
    ends_by_itself: ClassVar[bool] = True

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, PowerCyclesSettings)
        self._settings = settings
        self._place = place
        sheet = place.model_sheet
        stated_s = settings.start_limit_s
        self._looked_at_s = start_limit(sheet, stated_s).limit_s

    @property
    def _by_eye(self) -> bool:
        place = self._place
        allowed = self._settings.by_eye
        return place.seen_by_eye(
            self.name, allowed=allowed, wired=place.fixture.capture is not None
        )

    def by_person(self) -> frozenset[Role] | None:
        """Return the capture where the operator's eyes take its place."""
        return frozenset({"capture"}) if self._by_eye else None

    def sources(self) -> Sequence[str]:
        watched = self._place.starts_watched_by()
        return [source for source in watched if source != "capture" or not self._by_eye]

    def quantities(self) -> Sequence[Quantity]:
        return ()

    def requirements(self) -> Sequence[Requirement]:
        own = self._settings
        requirements = [self._starts_by_eye()] if self._by_eye else []
        requirements.append(self._starts())
        if own.warm or own.cold or not own.quick:
            requirements.append(self._off_proved())
        if own.quick:
            requirements.append(self._short_breaks())
        if self._stops_softly and (own.warm or own.cold):
            requirements.append(self._soft_stops())
        if own.heat_cycles:
            requirements.append(self._heat_cycles())
        return requirements

    def unit_terms(self) -> Json:
        stated_s = self._settings.start_limit_s
        return {} if stated_s is None else {"start_limit_s": stated_s}

    def expected_s(self) -> float:
        own = self._settings
        cold_s = own.cold_off_at_most_s + own.cold_on_s
        quick_s = own.quick_off_high_s + own.on_s
        return own.warm * (own.off_s + own.on_s) + own.quick * quick_s + own.cold * cold_s

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        own = self._settings
        kinds = ["warm"] * own.warm + ["quick"] * own.quick + ["cold"] * own.cold
        for number, kind in enumerate(kinds, 1):
            if number <= done.count or (kind == "quick" and self._by_eye):
                continue
            if self._by_eye:
                await self._cycle_by_eye(bench, say, kind, number)
            elif kind == "quick":
                await self._knock(bench, say, number)
            else:
                await self._cycle(bench, say, kind, number)

    async def _cycle(self, bench: Bench, say: Say, kind: str, number: int) -> None:
        why = f"{kind} start {number}"
        soft = self._settings.soft_stop
        stopped = fact_in(await bench.soft_stop(why), SoftStop) if soft else None
        off = await bench.power(False, why=why)
        if stopped is not None and stopped.ended:
            say(self._mark(off.t_s, OffProved(by="soft stop", after_s=0.0)))
        else:
            await self._prove_off(bench, say, off)
        dwell = await self._cool(bench) if kind == "cold" else "timed"
        await trio.sleep(max(0.0, off.t_s + self._settings.off_s - bench.clock.now_s()))
        on = await bench.power(True, why=why)
        pressed = fact_in(await bench.wake(why), ButtonPressed)
        if pressed is not None and pressed.doubtful:
            # Nobody knows when it was pressed, so this start shows nothing; it is let come up all
            # the same, for the next press is to stop a unit that runs.
            await first_state(bench, "capture", {PICTURE}, self._settings.give_up_s)
            return
        began_s = on.t_s if pressed is None else pressed.from_s
        off_s = round(on.t_s - off.t_s, 3)
        begun = StartBegun(kind=kind, number=number, off_s=off_s, dwell=dwell)
        say(self._mark(began_s, begun))
        seen = await first_state(bench, "capture", {PICTURE}, self._settings.give_up_s)
        took_s = None if seen is None else round(max(0.0, seen.t_s - began_s), 4)
        asleep = seen is None and stopped is not None and pressed is None
        woken = asleep and await self._comes_by_button(bench, say, why)
        ended = StartEnded(
            kind=kind, number=number, seen=seen is not None, took_s=took_s, woken=woken
        )
        say(self._mark(bench.clock.now_s(), ended))
        on_s = self._settings.cold_on_s if kind == "cold" else self._settings.on_s
        await trio.sleep(max(0.0, on.t_s + on_s - bench.clock.now_s()))

    async def _cycle_by_eye(self, bench: Bench, say: Say, kind: str, number: int) -> None:
        """Ask whether the picture goes with the power, and whether it comes again."""
        own = self._settings
        why = f"{kind} start {number}"
        if own.soft_stop:
            await bench.soft_stop(why)
        off = await bench.power(False, why=why)
        start = start_words(kind, number)
        gone = await bench.ask(self._look(f"off by eye {number}", gone_words(start)))
        if gone is not None:
            fact = OffProved(by="eye") if gone == "yes" else OffNotProved(by="eye")
            say(self._mark(bench.clock.now_s(), fact))
        if kind == "cold":
            await self._cool(bench)
        await trio.sleep(max(0.0, off.t_s + own.off_s - bench.clock.now_s()))
        on = await bench.power(True, why=why)
        await bench.wake(why)
        await trio.sleep(max(0.0, on.t_s + self._looked_at_s - bench.clock.now_s()))
        there = there_words(start, self._looked_at_s)
        await bench.ask(self._look(f"{START_BY_EYE} {number}", there))
        on_s = own.cold_on_s if kind == "cold" else own.on_s
        await trio.sleep(max(0.0, on.t_s + on_s - bench.clock.now_s()))

    def _look(self, name: str, text: Message) -> Question:
        return look(f"{self._place.stretch}/{name}", text, self._settings.eye_wait_s)

    async def _comes_by_button(self, bench: Bench, say: Say, why: str) -> bool:
        """Press a unit that was pressed off and did not start: one that never lost power comes."""
        if await bench.wake(f"{why} showed nothing", anyway=True) is None:
            return False
        seen = await first_state(bench, "capture", {PICTURE}, self._settings.give_up_s)
        if seen is not None:
            say(self._mark(bench.clock.now_s(), OffNotProved(by="button")))
        return seen is not None

    async def _knock(self, bench: Bench, say: Say, number: int) -> None:
        """Break the power for a moment, and see what becomes of the picture."""
        own = self._settings
        why = f"quick start {number}"
        lasts_s = float(bench.random.uniform(own.quick_off_low_s, own.quick_off_high_s))
        off = await bench.power(False, why=why)
        await trio.sleep(max(0.0, off.t_s + lasts_s - bench.clock.now_s()))
        on = await bench.power(True, why=why)
        off_s = round(on.t_s - off.t_s, 3)
        begun = StartBegun(kind="quick", number=number, off_s=off_s, dwell="random")
        say(self._mark(on.t_s, begun))
        lost = await first_state(bench, "capture", DISTURBED, SHOWS_WITHIN_S)
        took_s: float | None = 0.0
        if lost is not None:
            seen = await first_state(bench, "capture", {PICTURE}, own.give_up_s)
            took_s = None if seen is None else round(max(0.0, seen.t_s - on.t_s), 4)
        came = took_s is not None
        ended = StartEnded(kind="quick", number=number, seen=came, took_s=took_s)
        say(self._mark(bench.clock.now_s(), ended))
        degree = NO_EFFECT if lost is None else BY_ITSELF
        if took_s is None:
            degree = await self._by_hand(bench, why)
        fact = ShortBreak(number=number, off_s=off_s, from_s=off.t_s, degree=degree)
        say(self._mark(bench.clock.now_s(), fact))
        await trio.sleep(max(0.0, on.t_s + own.on_s - bench.clock.now_s()))

    async def _by_hand(self, bench: Bench, why: str) -> str:
        """Do what a hand at the plug would do, and return whether it helps."""
        await bench.power(False, why=f"{why} did not come back")
        await trio.sleep(self._settings.off_s)
        await bench.power(True, why=f"{why} did not come back")
        await bench.wake(f"{why} did not come back")
        seen = await first_state(bench, "capture", {PICTURE}, self._settings.give_up_s)
        return NEVER if seen is None else BY_HAND

    async def _prove_off(self, bench: Bench, say: Say, off: Mark) -> None:
        within_s = self._settings.off_within_s
        gone = await first_state(bench, "capture", DARK | {BLIND}, within_s)
        after_s = round(bench.clock.now_s() - off.t_s, 3)
        if gone is not None and gone.state == BLIND:
            return  # the capture sees nothing: neither proved nor disproved, and blind on record
        kind = OffNotProved if gone is None else OffProved
        say(self._mark(bench.clock.now_s(), kind(by="capture", after_s=after_s)))

    async def _cool(self, bench: Bench) -> str:
        own = self._settings
        return await cooled(bench, self._place, own.cold_within_k, own.cold_off_at_most_s)

    def _starts(self) -> Requirement:
        plain = self._every_start()
        plan = self._place.plan
        if plan is None or plan["of"] == "hours":
            return plain
        return self._place.planned(plain, STARTS_BY_PLAN)

    def _starts_by_eye(self) -> Requirement:
        own = self._settings
        place = self._place
        if place.plan is not None:
            what = msg("goes with no plan: a plan counts starts that a capture watched")
            raise ScriptError(place.stretch, f"{self.name}.by_eye", what)
        terms = EyeTerms(promised=own.warm + own.cold, asked_s=self._looked_at_s)
        plain: Plain = {
            **place.plain(self.name, "starts by eye", needs=needed(self)),
            "limit": float(own.failed_allowed),
        }
        return STARTS_BY_EYE.demand(terms, quantity=f"{place.stretch}/{START_BY_EYE}", **plain)

    def _every_start(self) -> Requirement:
        own = self._settings
        sheet = self._place.model_sheet
        terms = StartTerms(
            start_limit_s=stated_start_limit_s(sheet, own.start_limit_s),
            usual_start_s=sheet.start_s,
            kinds=("warm", "cold", *(["quick"] if own.quick else [])),
            promised=own.warm + own.cold + own.quick,
            power_check=self.name,
        )
        plain: Plain = {
            **self._place.plain(self.name, "starts", needs=self.needs),
            "limit": float(own.failed_allowed),
            "confidence": self._place.confidence,
        }
        return STARTS.demand(terms, quantity="capture", **plain)

    def _off_proved(self) -> Requirement:
        plain = self._plain("off proved", needed(self))
        return OFF_PROVED.demand(OffTerms(), quantity="capture", **plain)

    def _short_breaks(self) -> Requirement:
        own = self._settings
        terms = BreakTerms(shortest_s=own.quick_off_low_s, longest_s=own.quick_off_high_s)
        return SHORT_BREAKS.demand(terms, **self._plain("short breaks"))

    @property
    def _stops_softly(self) -> bool:
        button = self._place.model_sheet.button
        return self._settings.soft_stop and button is not None and button.stops

    def _soft_stops(self) -> Requirement:
        button = self._place.model_sheet.button
        assert button is not None  # else nothing stops softly
        own = self._settings
        terms = SoftStopTerms(
            promised=own.warm + own.cold,
            button=button.text,
            stop_limit_s=button.stop_limit_s,
        )
        needs: frozenset[Role] = self.needs | {"button"}
        return SOFT_STOPS.demand(terms, **self._plain("soft stops", needs))

    def _plain(self, short: str, needs: frozenset[Role] | None = None) -> Plain:
        """Return the plain parts of a demand that shows no repair: starts show it."""
        plain = self._place.plain(self.name, short, needs=needs or self.needs)
        return {**plain, "limit": 0.0, "shows_repair": frozenset()}

    def _heat_cycles(self) -> Requirement:
        own = self._settings
        needs: frozenset[Role] = self.needs | {"probe"}
        plain = self._place.plain(self.name, "heat cycles", needs=needs)
        # Heat is what a repair must bear; that the unit was heated shows nothing of it.
        many: Plain = {**plain, "limit": float(own.heat_cycles), "shows_repair": frozenset()}
        return HEAT_CYCLES.demand(HeatCycleTerms(range_k=own.heat_range_k), **many)

    def _mark(self, t_s: float, fact: Fact) -> Mark:
        return mark_of(t_s, fact, self._place.stretch, self.name)


THE_CHECK = PowerCycles
