"""Current draw: what the unit takes from its supply at work, doing nothing, and in its standby."""

from collections.abc import Sequence
from typing import ClassVar, get_args

import trio
from pydantic import Field

from soak.checks.base import Bench, Done, Place, Say, first_state
from soak.marks import SoftStop, WorkingState, fact_in, mark_of
from soak.quantities import Quantity
from soak.records import Requirement, Role
from soak.roles import Question
from soak.rules.core.rule import Plain
from soak.rules.drawn import DRAWN, DrawnTerms, Working
from soak.settings import Seconds, Settings
from soak.states import PICTURE, patient_start_limit_s, usual_start_s
from soak.words import msg

_WORKING_STATES: Sequence[Working] = get_args(Working)


class CurrentDrawSettings(Settings):
    """Settings of the check `current_draw`; times in s.

    Attributes
    ----------
    running_s : float
        So long it is read at work; 0: not at all.
    idle_s : float
        So long doing nothing, which the operator sees to; 0: not at all.
    standby_s : float
        So long in its own standby, into which its power button takes it; 0: not at all.
    settles_s : float
        Left out at the beginning of each: meters average, and a unit has things to finish.
    off_s : float
        Off-time after the standby, before the unit is started again.
    answers_within_s : float
        So long the operator is waited for.
    """

    running_s: Seconds = Field(default=300.0, ge=0, le=86400)
    idle_s: Seconds = Field(default=0.0, ge=0, le=86400)
    standby_s: Seconds = Field(default=120.0, ge=0, le=86400)
    settles_s: Seconds = Field(default=20.0, ge=0, le=3600)
    off_s: Seconds = Field(default=10.0, ge=0.1, le=3600)
    answers_within_s: Seconds = Field(default=180.0, gt=0, le=86400)


class CurrentDraw:
    """Take the unit through its working states while a probe of the supply reads what it draws.

    A leaking capacitor, a fan that drags and a charger that never ends show here before anything
    else does; limits are those of the model sheet, and the figures are told without any.
    """

    name: ClassVar[str] = "current_draw"
    settings: ClassVar[type[Settings]] = CurrentDrawSettings
    needs: ClassVar[frozenset[Role]] = frozenset({"switch", "probe"})
    holds_switch: ClassVar[bool] = True
    ends_by_itself: ClassVar[bool] = True

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, CurrentDrawSettings)
        self._settings = settings
        self._place = place

    def sources(self) -> Sequence[str]:
        return ("switch", *(source for source, _ in self._probes()))

    def quantities(self) -> Sequence[Quantity]:
        return ()

    def requirements(self) -> Sequence[Requirement]:
        supply = self._place.model_sheet.supply
        if supply is None:
            return []
        return [
            self._at_most(working, limit, supply.draws_in)
            for working in _WORKING_STATES
            if self._lasts_s(working) and (limit := supply.at_most(working))
        ]

    def expected_s(self) -> float:
        own = self._settings
        start_s = usual_start_s(self._place.model_sheet)
        lasts_s = [self._lasts_s(working) for working in _WORKING_STATES]
        again_s = own.off_s + start_s if own.standby_s else 0.0
        return start_s + sum(own.settles_s + last_s for last_s in lasts_s if last_s) + again_s

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        await bench.power(True, why="to read what it draws")
        await bench.wake("to read what it draws")
        if not await self._started(bench):
            return
        if self._settings.running_s:
            await self._read(bench, say, "running")
        if self._settings.idle_s and await self._left_alone(bench):
            await self._read(bench, say, "idle")
        if self._settings.standby_s:
            await self._standby(bench, say)

    async def _standby(self, bench: Bench, say: Say) -> None:
        stopped = fact_in(await bench.soft_stop("into its standby"), SoftStop)
        if stopped is not None and stopped.ended:
            await self._read(bench, say, "standby")
        if stopped is not None:
            off = await bench.power(False, why="after its standby")
            await trio.sleep_until(off.t_s + self._settings.off_s)
            await bench.power(True, why="after its standby")
            await bench.wake("after its standby")
            await self._started(bench)  # else the end would cut it off in its start

    async def _started(self, bench: Bench) -> bool:
        """Wait until it shows a picture; where nobody looks, for as long as a start may take."""
        limit_s = patient_start_limit_s(self._place.model_sheet)
        if not self._place.fixture.capture:
            await trio.sleep(limit_s)
            return True
        return await first_state(bench, "capture", {PICTURE}, limit_s) is not None

    async def _left_alone(self, bench: Bench) -> bool:
        text = msg("Leave the unit on and doing nothing now: no clip, no transfer, nothing open.")
        asked = Question("idle", text, "done", wait_s=self._settings.answers_within_s)
        return asked.agreed(await bench.ask(asked))

    async def _read(self, bench: Bench, say: Say, working: str) -> None:
        await trio.sleep(self._settings.settles_s)
        from_s = bench.clock.now_s()
        await trio.sleep(self._lasts_s(working))
        now_s = bench.clock.now_s()
        fact = WorkingState(working_state=working, from_s=from_s)
        say(mark_of(now_s, fact, self._place.stretch, self.name))

    def _lasts_s(self, working: str) -> float:
        return float(getattr(self._settings, f"{working}_s"))

    def _probes(self) -> list[tuple[str, str]]:
        """Return (source, unit) of each probe of what the unit takes from its supply."""
        wired = self._place.fixture.probes
        return [
            (f"probe.{name}", one.unit)
            for name, one in wired.items()
            if one.unit in ("A", "W") and not one.at_port
        ]

    def _at_most(self, working: Working, limit: float, unit: str) -> Requirement:
        source = next(
            (name for name, of in self._probes() if of == unit), f"probe.supply in {unit}"
        )
        pressed: frozenset[Role] = frozenset({"button"} if working == "standby" else ())
        plain = self._place.plain(self.name, working, needs=self.needs | pressed)
        own: Plain = {**plain, "limit": limit, "guarded": True}
        return DRAWN.demand(DrawnTerms(working_state=working), quantity=source, unit=unit, **own)


THE_CHECK = CurrentDraw
