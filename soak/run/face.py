"""What a check gets to see of the bench, and nothing else."""

import zlib
from collections.abc import AsyncIterator

import numpy as np
import trio

from soak.checks.base import Check
from soak.clock import SoakClock
from soak.derive.course import course_of
from soak.derive.spans import touching
from soak.errors import BenchFault
from soak.marks import LoadSwitched, PowerChanged, fact_in, mark_of
from soak.records import Mark, Reading, State
from soak.roles import Movement, Network, Question, Stick
from soak.run.in_hand import InHand
from soak.run.lost import well_again
from soak.run.so_far import SoFar
from soak.words import msg

_TOLD_LATE_S = 1.5
"""That the computer stood still is told so late, s (`host`). Our own choice."""


class BenchFace:
    """Implements `checks.base.Bench` for one check in one stretch."""

    def __init__(self, check: Check, stretch: str, hand: InHand, so_far: SoFar) -> None:
        self._so_far = so_far
        self._check = check
        self._stretch = stretch
        self._clock = hand.clock
        self._hub = hand.hub
        self._power = hand.power
        self._button = hand.button
        self._questions = hand.questions
        self._instruments = hand.instruments
        part = zlib.crc32(f"{check.name}/{stretch}".encode())
        self._random = np.random.default_rng([hand.header.seed, part])

    @property
    def clock(self) -> SoakClock:
        """Soak time."""
        return self._clock

    @property
    def random(self) -> np.random.Generator:
        """A stream of its own from (seed, check, stretch)."""
        return self._random

    def follow(self, source: str) -> AsyncIterator[State | Reading]:
        """Yield the latest state and reading of a source, then every later one."""
        return self._hub.follow(source)

    async def blind_in(self, source: str, from_s: float, to_s: float) -> bool:
        """Tell whether a source was not seen at some time in between, as the judgement reckons."""
        await trio.sleep(_TOLD_LATE_S)
        course = course_of(self._so_far.up_to(self._clock.now_s()))
        # That nobody knows why it is dead is no moment in which nobody looked.
        spans = [(hole.from_s, hole.to_s) for hole in course.holes(source) if not hole.for_good]
        return touching(from_s, to_s, spans) is not None

    async def power(self, on: bool, why: str = "") -> Mark:
        """Command the power."""
        self._holds_switch()
        return await self._power.set(on, why)

    def _holds_switch(self) -> None:
        if not self._check.holds_switch:
            raise BenchFault(
                "switch", msg("the check {name} does not hold the switch", name=self._check.name)
            )

    async def soft_stop(self, why: str = "") -> Mark | None:
        """Press the unit off, and see it go."""
        self._holds_switch()
        return await self._button.soft_stop(why, self._stretch, self._check.name)

    async def wake(self, why: str = "", *, anyway: bool = False) -> Mark | None:
        """Press on a unit that stays off when power comes back."""
        self._holds_switch()
        waking = (why, self._stretch, self._check.name)
        return await self._button.wake(*waking, anyway=anyway)

    async def move(self, movement: Movement, lasts_s: float) -> bool:
        """Let the servo move the plug; False if it failed, said once it answers again."""
        servo = self._instruments.servo
        if servo is None:
            raise BenchFault("servo", msg("none is wired to this fixture"))
        try:
            await servo.move(movement, lasts_s)
        except BenchFault as fault:
            await well_again("servo", fault, servo.rest, hub=self._hub, clock=self._clock)
            return False
        return True

    async def set_voltage(self, volt: float, why: str = "") -> Mark:
        """Set the supply's voltage for the next start."""
        self._holds_switch()
        return await self._power.set_voltage(volt, why)

    async def interrupt(self, for_s: float, why: str = "") -> float:
        """Break the power for a moment; return for how long it was, s."""
        self._holds_switch()
        mark = await self._power.interrupt(for_s, why)
        power = fact_in(mark, PowerChanged)
        assert power is not None
        assert power.broken_s is not None
        return power.broken_s

    async def fed_v(self) -> float:
        """Return the voltage that the supply gives now, V."""
        return await self._power.fed_v()

    def stick(self) -> Stick:
        """Return the stick."""
        stick = self._instruments.stick
        if stick is None:
            raise BenchFault("stick", msg("none is wired to this fixture"))
        return stick

    def network(self) -> Network:
        """Return the network port."""
        network = self._instruments.network
        if network is None:
            raise BenchFault("network", msg("none is wired to this fixture"))
        return network

    async def load(self, on: bool) -> Mark:
        """Command the load at the unit's port; the mark of it is on record."""
        load = self._instruments.load
        if load is None:
            raise BenchFault("load", msg("none is wired to this fixture"))
        await load.command(on)
        switched = LoadSwitched(on=on)
        mark = mark_of(self._clock.now_s(), switched, self._stretch, self._check.name)
        self._hub.publish(mark)
        return mark

    async def ask(self, question: Question) -> str | float | None:
        """Ask the operator."""
        return await self._questions.put(question, self._stretch, self._check.name)
