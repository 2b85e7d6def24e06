"""Power cycles: warm and cold starts, off proved, time to picture."""

from collections.abc import Callable, Sequence
from contextlib import aclosing
from typing import Any, ClassVar, cast

import trio
from pydantic import Field

from soak.checks.base import Bench, Done, Place, Say
from soak.quantities import Quantity
from soak.records import BLIND, Mark, Reading, Requirement, Role, State
from soak.settings import Seconds, Settings

_OFF_LOOKS_LIKE = ("no signal", "black")


class PowerCyclesSettings(Settings):
    """Settings of the check `power_cycles`; times in s.

    Attributes
    ----------
    warm, cold : int
        Number of starts after a short off, and of starts after cooling down.
    off_s, on_s : float
        Off-time and on-time of a warm cycle.
    cold_within_k : float
        A cold start begins when the hottest spot is within so many K of ambient,
    cold_off_at_most_s : float
        or after so long an off-time.
    cold_on_s : float
        On-time after a cold start: long enough to heat up.
    start_limit_s : float or None
        Longest time to picture; None: the model sheet's, else twice the median of the attended
        starts plus 10 s.
    give_up_s : float
        A start that shows no picture for so long has hung.
    failed_allowed : int
        Failed starts allowed.
    off_within_s : float
        So soon after off the picture must be gone.
    """

    warm: int = Field(default=0, ge=0, le=10_000)
    cold: int = Field(default=0, ge=0, le=1_000)
    off_s: Seconds = Field(default=30.0, ge=0.1)
    on_s: Seconds = Field(default=60.0, ge=1)
    cold_within_k: float = Field(default=3.0, gt=0)
    cold_off_at_most_s: Seconds = Field(default=1800.0, gt=0)
    cold_on_s: Seconds = Field(default=900.0, gt=0)
    start_limit_s: Seconds | None = Field(default=None, gt=0)
    give_up_s: Seconds = Field(default=180.0, gt=0)
    failed_allowed: int = Field(default=0, ge=0)
    off_within_s: Seconds = Field(default=10.0, gt=0)


class PowerCycles:
    """Switch the unit off and on, and watch each start to its end."""

    name: ClassVar[str] = "power_cycles"
    settings: ClassVar[type[Settings]] = PowerCyclesSettings
    needs: ClassVar[frozenset[Role]] = frozenset({"switch", "capture"})
    holds_switch: ClassVar[bool] = True
    ends_by_itself: ClassVar[bool] = True

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, PowerCyclesSettings)
        self._settings, self._place = settings, place

    def sources(self) -> Sequence[str]:
        return ("switch", "capture")

    def quantities(self) -> Sequence[Quantity]:
        return ()

    def requirements(self) -> Sequence[Requirement]:
        return [self._starts(), self._off_proved()]

    def expected_s(self) -> float:
        own = self._settings
        cold_s = own.cold_off_at_most_s + own.cold_on_s
        return own.warm * (own.off_s + own.on_s) + own.cold * cold_s

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        kinds = ["warm"] * self._settings.warm + ["cold"] * self._settings.cold
        for number, kind in enumerate(kinds, 1):
            if number > done.count:
                await self._cycle(bench, say, kind, number)

    async def _cycle(self, bench: Bench, say: Say, kind: str, number: int) -> None:
        off = await bench.power(False, why=f"{kind} start {number}")
        await self._prove_off(bench, say, off)
        dwell = await self._cool(bench) if kind == "cold" else "timed"
        await trio.sleep(max(0.0, off.t_s + self._settings.off_s - bench.clock.now_s()))
        on = await bench.power(True, why=f"{kind} start {number}")
        what: dict[str, Any] = {"kind": kind, "number": number}
        off_s = round(on.t_s - off.t_s, 3)
        say(self._mark(on.t_s, "start", {**what, "off_s": off_s, "dwell": dwell}))
        seen = await self._first(bench, "capture", _is("picture"), self._settings.give_up_s)
        took_s = None if seen is None else round(max(0.0, seen.t_s - on.t_s), 4)
        ended = {**what, "seen": seen is not None, "took_s": took_s}
        say(self._mark(bench.clock.now_s(), "start ended", ended))
        on_s = self._settings.cold_on_s if kind == "cold" else self._settings.on_s
        await trio.sleep(max(0.0, on.t_s + on_s - bench.clock.now_s()))

    async def _prove_off(self, bench: Bench, say: Say, off: Mark) -> None:
        within_s = self._settings.off_within_s
        gone = await self._first(bench, "capture", _is(*_OFF_LOOKS_LIKE, BLIND), within_s)
        after_s = round(bench.clock.now_s() - off.t_s, 3)
        if gone is not None and gone.state == BLIND:
            return  # the capture sees nothing: neither proved nor disproved, and blind on record
        what = "off not proved" if gone is None else "off proved"
        say(self._mark(bench.clock.now_s(), what, {"by": "capture", "after_s": after_s}))

    async def _cool(self, bench: Bench) -> str:
        """Wait until the hottest spot is near ambient; return what ended the wait."""
        spots, ambient = self._probes()
        limit_s, within_k = self._settings.cold_off_at_most_s, self._settings.cold_within_k
        if not spots or not ambient:
            await trio.sleep(limit_s)
            return f"{limit_s:g} s, no probes at a spot and at ambient"
        with trio.move_on_after(limit_s):
            await _all_within(bench, spots, ambient, within_k)
            return f"within {within_k:g} K of ambient"
        return f"{limit_s:g} s, not yet within {within_k:g} K of ambient"

    def _probes(self) -> tuple[list[str], str]:
        wired = self._place.fixture.get("probe", {})
        heat = {f"probe.{n}": w["spot"] for n, w in wired.items() if w["unit"] == "degC"}
        ambient = next((name for name, spot in heat.items() if spot == "ambient"), "")
        return [name for name, spot in heat.items() if spot not in ("", "ambient")], ambient

    async def _first(
        self, bench: Bench, source: str, wanted: Callable[[State], bool], limit_s: float
    ) -> State | None:
        """Return the first wanted state from now on, or None after `limit_s`."""
        with trio.move_on_after(limit_s):
            async with aclosing(cast(Any, bench.follow(source))) as records:
                async for record in records:
                    if isinstance(record, State) and wanted(record):
                        return record
        return None

    def _starts(self) -> Requirement:
        sheet, allowed = self._place.model_sheet, self._settings.failed_allowed
        limit_s = self._settings.start_limit_s or sheet.get("start_limit_s")
        within = f"within {limit_s:g} s" if limit_s else "within the limit set by its first starts"
        return Requirement(
            id=f"{self._place.stretch}/power_cycles/starts",
            check=self.name,
            stretch=self._place.stretch,
            text=f"Every start shows a picture {within}",
            quantity="capture",
            rule="starts",
            limit=float(allowed),
            confidence=self._place.confidence,
            needs=self.needs,
            blind_allowed=self._place.blind_allowed,
            longest_blind_s=self._place.longest_blind_s,
            shows_repair=self._place.functions(self.name),
            params={
                "start_limit_s": limit_s,
                "usual_start_s": sheet.get("start_s"),
                "kinds": ["warm", "cold"],
                "promised": self._settings.warm + self._settings.cold,
                "power_check": self.name,
            },
        )

    def _off_proved(self) -> Requirement:
        return Requirement(
            id=f"{self._place.stretch}/power_cycles/off proved",
            check=self.name,
            stretch=self._place.stretch,
            text="Each off was seen to be off",
            quantity="capture",
            rule="off proved",
            limit=0.0,
            needs=self.needs,
            blind_allowed=self._place.blind_allowed,
            longest_blind_s=self._place.longest_blind_s,
        )

    def _mark(self, t_s: float, what: str, detail: dict[str, Any]) -> Mark:
        return Mark(t_s, what, self._place.stretch, self.name, detail)


def _is(*states: str) -> Callable[[State], bool]:
    return lambda state: state.state in states


async def _all_within(bench: Bench, spots: Sequence[str], ambient: str, within_k: float) -> None:
    """Return when each spot's latest reading is within `within_k` K of ambient."""
    latest: dict[str, float] = {}
    near = trio.Event()

    async def keep(name: str) -> None:
        async with aclosing(cast(Any, bench.follow(name))) as records:
            async for record in records:
                if isinstance(record, Reading):
                    latest[name] = record.value
                    notice()

    def notice() -> None:
        base = latest.get(ambient)
        known = base is not None and all(spot in latest for spot in spots)
        if known and all(latest[spot] - cast(float, base) <= within_k for spot in spots):
            near.set()

    async with trio.open_nursery() as nursery:
        for name in (*spots, ambient):
            nursery.start_soon(keep, name)
        await near.wait()
        nursery.cancel_scope.cancel()


THE_CHECK = PowerCycles
