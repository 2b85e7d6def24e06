"""The simulated capture: few pictures while nothing happens, exact ones at each change."""

from collections.abc import AsyncIterator, Iterator, Sequence
from typing import Literal

import numpy as np
import trio
from pydantic import Field

from soak.clock import SoakClock
from soak.frozen.wiring import CaptureWired
from soak.marks import StateSaid, state_of
from soak.natures import Nature
from soak.records import Json
from soak.roles import BlindWatcher, Picture, Seen, Watcher
from soak.settings import Seconds
from soak.sim import pictures
from soak.sim.chance import stream
from soak.sim.played import played
from soak.sim.troubles import Trouble, capture_troubles
from soak.sim.unit import SimulatedUnit
from soak.states import BLIND

FRAME_S = 1 / 60
"""Time between two pictures of the simulated card, s."""
TOGETHER_S = 10.0
"""While nothing changes, pictures of so many s are handed over together: a wake costs more than a
picture."""


class CaptureSimulated(CaptureWired):
    """Settings of the simulated capture: `every_s` s from picture to picture in steady state.

    A real card delivers every picture; this one leaves out those that would only repeat what is
    known, and delivers the last one before a change and the first one after it.

    Attributes
    ----------
    every_s : float
        From picture to picture where nothing changes, s.
    """

    driver: Literal["simulated"]
    every_s: Seconds = Field(default=1.0, ge=0.02, le=60)


class SimulatedCapture:
    """Delivers the simulated unit's picture."""

    def __init__(self, wired: CaptureSimulated, clock: SoakClock, unit: SimulatedUnit) -> None:
        self._wired = wired
        self._clock = clock
        self._unit = unit
        self._moving = pictures.moving_pictures(unit.seed)
        self._black = pictures.black_picture(unit.seed)
        self._no_signal = memoryview(pictures.no_signal_picture().tobytes())
        self._protected = memoryview(pictures.protected_picture().tobytes())
        self._troubles = capture_troubles(unit.scene, unit.seed)
        player = unit.scene.player
        self._coded = pictures.coded_pictures(player.coded_frames)
        drawn = stream(unit.seed, "skipped frames").random(player.coded_frames)
        self._skipped = frozenset(int(at) for at in np.flatnonzero(drawn < player.skips))
        self._size = pictures.CODED_SIZE if self._coded else (pictures.WIDTH, pictures.ROWS)
        if self._coded:
            self._black = pictures.larger(self._black)
            self._no_signal = pictures.larger(self._no_signal)
            self._protected = pictures.larger(self._protected)
        self._number = 0
        self._at = 0

    @property
    def identity(self) -> Json:
        """What it is."""
        return {
            "driver": "simulated",
            "nature": Nature.SIMULATED,
            "scene": self._unit.scene.name,
            "rate_hz": 60,
        }

    async def watch(self, watcher: Watcher) -> AsyncIterator[Seen]:
        shown_s = self._clock.now_s() - FRAME_S
        while True:
            now_s = self._clock.now_s()
            trouble = self._trouble(now_s)
            for picture in self._due(shown_s, trouble.from_s - FRAME_S if trouble else now_s):
                shown_s = picture.t_s
                for seen in watcher.look(picture):
                    yield seen
            if trouble is not None:
                for seen in _blind(watcher, trouble):
                    yield seen
                await trio.sleep_until(trouble.until_s)
                shown_s = self._clock.now_s() - FRAME_S
                continue
            await self._wait(shown_s)

    async def aclose(self) -> None:
        pass

    def _trouble(self, t_s: float) -> Trouble | None:
        return next((t for t in self._troubles if t.from_s <= t_s < t.until_s), None)

    def _due(self, shown_s: float, now_s: float) -> Iterator[Picture]:
        """Yield the pictures from `shown_s` (excluded) to now, with those around each change."""
        for change_s in self._unit.looks.changes_s(shown_s, now_s):
            yield from self._steady(shown_s, change_s - FRAME_S)
            yield self._picture(change_s)
            shown_s = change_s
        yield from self._steady(shown_s, now_s)

    def _steady(self, shown_s: float, last_s: float) -> Iterator[Picture]:
        """Yield a picture each `every_s` after `shown_s`, and one at `last_s`."""
        while (shown_s := shown_s + self._wired.every_s) < last_s - FRAME_S / 2:
            yield self._picture(shown_s)
        if last_s > shown_s - self._wired.every_s:
            yield self._picture(last_s)

    def _picture(self, t_s: float) -> Picture:
        look = self._unit.looks.at(t_s)
        if look == "picture":
            self._at = (self._at + 1) % len(self._moving)
        shown = self._coded[self._frame(t_s)] if self._coded else self._moving[self._at]
        instead = {
            "no signal": self._no_signal,
            "black": self._black,
            "protected output": self._protected,
        }
        data = instead.get(look, shown)
        self._number += 1
        return Picture(t_s, self._number, "bgr", size=self._size, data=data)

    def _frame(self, t_s: float) -> int:
        """Return which frame of the clip is shown, one a second; a skipped one shows the next."""
        number = int(t_s) % len(self._coded)
        while number in self._skipped:
            number = (number + 1) % len(self._coded)
        return number

    async def _wait(self, shown_s: float) -> None:
        """Wait until the next picture, the next planned change, or a change of plan."""
        looks = self._unit.looks
        plan = self._unit.changed
        together_s = max(self._wired.every_s, TOGETHER_S)
        due = [shown_s + together_s, looks.next_change_s(shown_s)]
        due += [trouble.from_s for trouble in self._troubles if trouble.from_s > shown_s]
        with trio.move_on_at(min(due)):
            await plan.wait()


def _blind(watcher: Watcher, trouble: Trouble) -> Sequence[Seen]:
    if isinstance(watcher, BlindWatcher):
        return watcher.blind(trouble.from_s, trouble.why)
    return (state_of(trouble.from_s, "capture", BLIND, StateSaid(why=trouble.why)),)


@played(CaptureSimulated)
def open_capture(
    name: str, wired: CaptureSimulated, clock: SoakClock, unit: SimulatedUnit
) -> SimulatedCapture:
    """Take the unit's capture."""
    return SimulatedCapture(wired, clock, unit)
