"""Reseating: the plug goes in again and again, on cue, and must work each time.

A port is plugged many times in its life. A Type-C plug has two ways up with contacts of their own,
so each is counted apart; a second, new plug tells a worn plug of the bench from a worn port.
"""

from collections.abc import Sequence
from contextlib import aclosing
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any, ClassVar, cast

import trio
from pydantic import Field

from soak.checks.base import Bench, Done, Place, Say, beside, first_state
from soak.instruments import WATCHES, watchers_at
from soak.marks import PluggedIn, mark_of, said_by
from soak.quantities import Quantity
from soak.records import Requirement, Role, State
from soak.roles import Question
from soak.rules.core.rule import Plain
from soak.rules.reseat import RESEATS, Plug, ReseatTerms, Side, plug_words, push_words
from soak.settings import Seconds, Settings
from soak.states import UNSEEN, patient_start_limit_s, works
from soak.words import Amount, msg, paragraph

_PULLED_OUT_S = 2.0
"""So long after the cue's answer a leaving may still be told: the bench makes sure of it first. Our
own choice."""


class ReseatSettings(Settings):
    """Settings of the check `reseat`.

    Attributes
    ----------
    port : str
        The unit's port; empty: the one that the fixture's link (or capture) is at.
    times : int
        Plug-ins with the usual plug; of a Type-C plug so many each way up.
    new_plug_times : int
        Plug-ins with a second, new plug; of a Type-C plug so many each way up.
    type_c : bool
        Whether the plug has two ways up.
    seen_within_s : float
        So soon after the operator said that it is in, it must work, s.
    dwell_s : float
        It must then go on working so long with hands off, s.
    at_least_speed_mbps : float or None
        Signalling rate that it must come up at, Mb/s; left out: any. Only a link tells.
    force : str
        How hard to push, as the card says it.
    failed_allowed : int
        Plug-ins of one kind that may fail.
    wait_s : float
        How long to wait for each answer, s.
    """

    port: str = ""
    times: int = Field(default=20, ge=1, le=1000)
    new_plug_times: int = Field(default=5, ge=0, le=1000)
    type_c: bool = False
    seen_within_s: Seconds = Field(default=10.0, gt=0, le=600)
    dwell_s: Seconds = Field(default=5.0, ge=0, le=600)
    at_least_speed_mbps: float | None = Field(default=None, gt=0)
    force: str = "about 20 N, as a hand does"
    failed_allowed: int = Field(default=0, ge=0)
    wait_s: Seconds = Field(default=600.0, gt=0)


@dataclass
class _Seen:
    """What a source was seen to be since the cue."""

    states: list[State] = field(default_factory=list)
    more: trio.Event = field(default_factory=trio.Event)

    def take(self, state: State) -> None:
        self.states.append(state)
        self.more.set()
        self.more = trio.Event()


class Reseat:
    """Ask for one plug-in after another, and watch each to its end."""

    name: ClassVar[str] = "reseat"
    settings: ClassVar[type[Settings]] = ReseatSettings
    needs: ClassVar[frozenset[Role]] = frozenset()
    holds_switch: ClassVar[bool] = False
    ends_by_itself: ClassVar[bool] = True

    def __init__(self, settings: Settings, place: Place) -> None:
        assert isinstance(settings, ReseatSettings)
        self._settings = settings
        self._place = place
        watched: dict[Role, str] = watchers_at(place.fixture)
        at_capture = place.fixture.port_of("capture")
        watched |= {"capture": at_capture} if at_capture else {}
        self._port = settings.port or next(iter(watched.values()), "")
        at_port: list[Role] = [role for role, port in watched.items() if port == self._port]
        self._source: Role = at_port[0] if at_port else "link"
        self._watched = bool(at_port)

    def sources(self) -> Sequence[str]:
        return (self._source,) if self._watched else ()

    def quantities(self) -> Sequence[Quantity]:
        return ()

    def requirements(self) -> Sequence[Requirement]:
        return [self._requirement(plug, side, times) for plug, side, times in self._groups()]

    def expected_s(self) -> float:
        number = sum(times for _, _, times in self._groups())
        return number * (self._settings.dwell_s + 10.0)

    async def measure(self, bench: Bench, done: Done, say: Say) -> None:
        if not self._watched:
            return
        patient_s = patient_start_limit_s(self._place.model_sheet)
        await first_state(bench, self._source, works(self._source), patient_s)
        number = 0
        for plug, side, times in self._groups():
            for of in range(1, times + 1):
                number += 1
                if number > done.count and not await self._once(
                    bench, say, plug, side=side, number=of, of=times
                ):
                    return

    def _groups(self) -> list[tuple[Plug, Side, int]]:
        """Return (plug, side, times) of each kind of plug-in; they are counted apart."""
        own = self._settings
        sides: tuple[Side, ...] = ("one way up", "the other way up") if own.type_c else ("",)
        kinds: tuple[tuple[Plug, int], ...] = (("usual", own.times), ("new", own.new_plug_times))
        return [(plug, side, times) for plug, times in kinds for side in sides if times]

    async def _once(
        self, bench: Bench, say: Say, plug: str, side: str, number: int, of: int
    ) -> bool:
        """Do one plug-in; return whether the operator is still there."""
        seen = _Seen()
        from_s = bench.clock.now_s()
        async with beside(partial(self._keep, bench, seen)):
            card = self._card(plug, side, number, of)
            done = card.agreed(await bench.ask(card))
            in_s = bench.clock.now_s()
            sighting = await self._seen_of(bench, seen, from_s, in_s) if done else None
        if sighting is None:
            return False
        to_s = bench.clock.now_s()
        wired = self._place.fixture.wired.get(self._source)
        # A second plug is no wear of the one that is wired.
        cable = getattr(wired, "cable", "") if plug == "usual" else f"{plug} plug"
        whole = replace(
            sighting,
            port=self._port,
            plug=plug,
            side=side,
            number=number,
            cable=cable,
            source=self._source,
            from_s=from_s,
            to_s=to_s,
        )
        say(mark_of(to_s, whole, self._place.stretch, self.name))
        return True

    async def _keep(self, bench: Bench, seen: _Seen) -> None:
        async with aclosing(cast(Any, bench.follow(self._source))) as records:
            async for record in records:
                if isinstance(record, State):
                    seen.take(record)

    async def _seen_of(self, bench: Bench, seen: _Seen, from_s: float, in_s: float) -> PluggedIn:
        """Watch what came of a plug-in; the last good state is what it came up as."""
        good = works(self._source)
        with trio.move_on_after(_PULLED_OUT_S):
            while not self._left(seen, from_s):
                await seen.more.wait()
        left = self._left(seen, from_s)
        with trio.move_on_at(in_s + self._settings.seen_within_s):
            while left and seen.states[-1].state not in good:
                await seen.more.wait()
        came = left and seen.states[-1].state in good
        first = seen.states[-1] if came else None
        before = len(seen.states)
        if came:
            await trio.sleep(self._settings.dwell_s)
        later = seen.states[before:]
        held = came and not any(state.state not in (*good, *UNSEEN) for state in later)
        blind = any(s.state in UNSEEN for s in seen.states if s.t_s >= from_s)
        speed = next(
            (
                mbps
                for state in reversed(seen.states)
                if (mbps := said_by(state).speed_mbps) is not None
            ),
            None,
        )
        return PluggedIn(
            pulled=left,
            seen=came,
            held=held,
            blind=blind,
            took_s=None if first is None else round(max(0.0, first.t_s - in_s), 3),
            speed_mbps=speed if came else None,
            bounces=sum(s.state in good for s in seen.states if s.t_s > from_s) - int(came),
        )

    def _left(self, seen: _Seen, from_s: float) -> bool:
        """Tell whether the device, or the picture, was seen to go since the cue."""
        out = [s for s in seen.states if s.state not in (*works(self._source), *UNSEEN)]
        # One that was out already (the plug-in before failed) is out without leaving again.
        return any(state.t_s >= from_s for state in out) or (bool(out) and seen.states[0] is out[0])

    def _card(self, plug: str, side: str, number: int, of: int) -> Question:
        which = plug_words(plug, side)
        first = msg(
            "Now the {plug}. Touch bare metal of the case first (static); the unit stays on.",
            plug=which,
        )
        text = msg(
            "Plug-in {number} of {of}, port {port}, {plug}: pull the plug out, count to three, "
            "push it straight in with {force}, let go, and confirm. Hands off for {time}.",
            number=number,
            of=of,
            port=self._port,
            plug=which,
            force=push_words(self._settings.force),
            time=Amount(self._settings.dwell_s, "s"),
        )
        name = f"{self._place.stretch}/{plug} {side} {number}".replace("  ", " ")
        asked = paragraph(first if number == 1 else None, text)
        return Question(name, asked, "done", wait_s=self._settings.wait_s)

    def _requirement(self, plug: Plug, side: Side, times: int) -> Requirement:
        own = self._settings
        terms = ReseatTerms(
            port=self._port,
            plug=plug,
            side=side,
            promised=times,
            seen_within_s=own.seen_within_s,
            dwell_s=own.dwell_s,
            force=own.force,
            at_least_speed_mbps=own.at_least_speed_mbps if self._source in WATCHES else None,
            watched=self._watched,
        )
        short = f"{plug} plug{' ' + side if side else ''}"
        needs = frozenset({self._source})
        plain: Plain = {
            **self._place.plain(self.name, short, needs=needs, port=self._port),
            "limit": float(own.failed_allowed),
            "confidence": self._place.confidence,
        }
        return RESEATS.demand(terms, quantity=self._source, **plain)


THE_CHECK = Reseat
