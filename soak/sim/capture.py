"""The simulated capture: few pictures while nothing happens, exact ones at each change."""

from collections.abc import AsyncIterator, Iterator
from dataclasses import replace
from typing import Literal

import trio
from pydantic import Field

from soak.bench.wiring import CaptureWired
from soak.clock import SoakClock
from soak.records import BLIND, Json, State
from soak.roles import Looker, Picture, Seen
from soak.settings import Seconds
from soak.sim import pictures
from soak.sim.troubles import Trouble, capture_troubles
from soak.sim.unit import SimulatedUnit

FRAME_S = 1 / 60
"""Time between two pictures of the simulated card, s."""
AFTER_S = (0.1, 0.4)
"""So long after a change there is another picture, s."""


class CaptureSimulated(CaptureWired):
    """Settings of the simulated capture: `every_s` s from picture to picture in steady state.

    A real card delivers every picture; this one leaves out those that would only repeat what is
    known, and delivers the last one before a change and the first one after it.
    """

    driver: Literal["simulated"]
    every_s: Seconds = Field(default=1.0, ge=0.02, le=60)


class SimulatedCapture:
    """Delivers the simulated unit's picture."""

    def __init__(self, wired: CaptureSimulated, clock: SoakClock, unit: SimulatedUnit) -> None:
        self._wired, self._clock, self._unit = wired, clock, unit
        self._moving = pictures.moving_pictures(unit.seed)
        self._black = pictures.black_picture(unit.seed)
        self._no_signal = memoryview(pictures.no_signal_picture().tobytes())
        self._troubles = capture_troubles(unit.scene, unit.seed)
        self._number = 0
        self._phase = 0

    @property
    def identity(self) -> Json:
        """What it is."""
        return {"driver": "simulated", "scene": self._unit.scene.name, "rate_hz": 60}

    async def watch(self, looker: Looker) -> AsyncIterator[Seen]:
        last: State | None = None
        shown_s = self._clock.now_s() - FRAME_S
        blinded = False
        while True:
            trouble = self._trouble(self._clock.now_s())
            if trouble is not None:
                yield State(trouble.from_s, "capture", BLIND, detail={"why": trouble.why})
                await trio.sleep_until(trouble.until_s)
                shown_s, blinded = self._clock.now_s() - FRAME_S, True
                continue
            for picture in self._due(shown_s, self._clock.now_s()):
                shown_s = picture.t_s
                seen = looker.look(picture)
                if blinded and last and not any(isinstance(found, State) for found in seen):
                    yield replace(last, t_s=picture.t_s, within_s=0.0)
                blinded = False
                for found in seen:
                    last = found if isinstance(found, State) else last
                    yield found
            await self._wait(shown_s)

    async def aclose(self) -> None:
        pass

    def _trouble(self, t_s: float) -> Trouble | None:
        return next((t for t in self._troubles if t.from_s <= t_s < t.until_s), None)

    def _due(self, shown_s: float, now_s: float) -> Iterator[Picture]:
        """Yield the pictures from `shown_s` (excluded) to now, with those around each change."""
        for change_s in self._unit.looks.changes_s(shown_s, now_s):
            if change_s - FRAME_S > shown_s:
                yield self._picture(change_s - FRAME_S)
            yield self._picture(change_s)
            shown_s = change_s
        if now_s > shown_s:
            yield self._picture(now_s)

    def _picture(self, t_s: float) -> Picture:
        look = self._unit.looks.at(t_s)
        if look == "picture":
            self._phase = (self._phase + 1) % len(self._moving)
        data = {"no signal": self._no_signal, "black": self._black}.get(
            look, self._moving[self._phase]
        )
        self._number += 1
        return Picture(t_s, self._number, "bgr", (pictures.WIDTH, pictures.ROWS), data)

    async def _wait(self, shown_s: float) -> None:
        """Wait until the next picture, the next planned change, or a change of plan."""
        looks, plan = self._unit.looks, self._unit.changed
        due = [shown_s + self._wired.every_s, looks.next_change_s(shown_s)]
        for change_s in looks.changes_s(shown_s - AFTER_S[-1], shown_s):
            due += [at_s for after in AFTER_S if (at_s := change_s + after) > shown_s]
        due += [trouble.from_s for trouble in self._troubles if trouble.from_s > shown_s]
        with trio.move_on_at(min(due)):
            await plan.wait()
