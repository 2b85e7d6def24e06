"""The guard's rules as a pure step: (state, event) to (state, orders).

The orders are marks: `power` with `on` false is an order to switch off, `trip`, `silence`,
`rearmed` and `alarm` are for the record and for people. Property tests run on this function.

This is no safety device: it can fail like any program. It cuts what it can and says what it did.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType

from soak.quantities import show_duration
from soak.records import Mark

GOOD_AGAIN_S = 60.0
"""Length of good readings after silence before power is allowed again, s (common practice)."""
MOST_REARMS = 3
"""After so many silences the guard holds the power off for good (common practice)."""


@dataclass(frozen=True, slots=True)
class Guarding:
    """One guarding probe: above `trip` in the probe's unit, or silent, the power goes off."""

    source: str
    trip: float | None
    text: str = ""


@dataclass(frozen=True, slots=True)
class GuardState:
    """What the guard knows.

    Attributes
    ----------
    on : bool
        The last order carried to the switch.
    latched : str
        Why the power stays off for good; empty while it may come back.
    silent : frozenset of str
        Guarding probes that are silent now.
    good_since_s : float or None
        Since when all guarding probes have spoken again, while held.
    beat_within_s : float
        A runner that is not heard for so long is taken for hung, s; endless where the guard lives
        in the runner itself.
    """

    guarding: Mapping[str, Guarding] = field(default_factory=lambda: MappingProxyType({}))
    on: bool = False
    latched: str = ""
    silent: frozenset[str] = frozenset()
    held: bool = False
    good_since_s: float | None = None
    rearms: int = 0
    ended: bool = False
    beat_within_s: float = math.inf

    @property
    def allows_on(self) -> bool:
        """Whether power may be switched on now."""
        return not (self.latched or self.held or self.ended or self.silent)


@dataclass(frozen=True, slots=True)
class Wish:
    """The runner wishes power on or off."""

    t_s: float
    on: bool
    why: str = ""


@dataclass(frozen=True, slots=True)
class Value:
    """A guarding probe read a value."""

    t_s: float
    source: str
    value: float


@dataclass(frozen=True, slots=True)
class Silent:
    """A guarding probe fell silent."""

    t_s: float
    source: str


@dataclass(frozen=True, slots=True)
class Tick:
    """Time passes."""

    t_s: float


@dataclass(frozen=True, slots=True)
class End:
    """The soak ends, for whatever reason."""

    t_s: float
    why: str


@dataclass(frozen=True, slots=True)
class Unheard:
    """The runner is there and has said nothing for `for_s`, in which this guard could hear."""

    t_s: float
    for_s: float


@dataclass(frozen=True, slots=True)
class Gone:
    """The runner is dead: its end of the line is closed, and it did not say that it ends."""

    t_s: float


@dataclass(frozen=True, slots=True)
class Woke:
    """The host slept for `slept_s`, and nobody watched."""

    t_s: float
    slept_s: float


GuardEvent = Wish | Value | Silent | Tick | End | Unheard | Gone | Woke


def guard_step(state: GuardState, event: GuardEvent) -> tuple[GuardState, Sequence[Mark]]:
    """Return the next state, and the orders and statements that follow from the event."""
    match event:
        case Wish():
            return _wish(state, event)
        case Value():
            return _value(state, event)
        case Silent():
            return _silent(state, event)
        case Tick():
            return _maybe_rearm(state, event.t_s)
        case End():
            return _cut_for_good(state, event.t_s, event.why)
        case Unheard():
            if state.ended or event.for_s < state.beat_within_s:
                return state, []
            why = f"the runner has not been heard for {show_duration(event.for_s)}"
            return _cut_for_good(state, event.t_s, why, alarm=True)
        case Gone():
            return _cut_for_good(state, event.t_s, "the runner is gone")
        case Woke():
            why = f"the host slept for {show_duration(event.slept_s)}"
            return _cut_for_good(state, event.t_s, why, alarm=True)


def _wish(state: GuardState, wish: Wish) -> tuple[GuardState, Sequence[Mark]]:
    if not wish.on:
        return replace(state, on=False), [_off(wish.t_s, wish.why)]
    if not state.allows_on:
        return state, []
    return replace(state, on=True), [Mark(wish.t_s, "power", detail={"on": True, "why": wish.why})]


def _value(state: GuardState, event: Value) -> tuple[GuardState, Sequence[Mark]]:
    guarding = state.guarding.get(event.source)
    if guarding is None:
        return state, []
    if guarding.trip is not None and event.value >= guarding.trip and not state.latched:
        detail = {"source": event.source, "value": event.value, "limit": guarding.trip}
        name = guarding.text or event.source
        why = f"{name} reached {event.value:g}, the trip is {guarding.trip:g}"
        tripped = replace(state, latched=why, on=False)
        return tripped, [_off(event.t_s, why), Mark(event.t_s, "trip", detail=detail)]
    if event.source in state.silent:
        silent = state.silent - {event.source}
        state = replace(state, silent=silent, good_since_s=None if silent else event.t_s)
    return _maybe_rearm(state, event.t_s)


def _silent(state: GuardState, event: Silent) -> tuple[GuardState, Sequence[Mark]]:
    if event.source not in state.guarding or event.source in state.silent:
        return state, []
    already_held = state.held
    state = replace(
        state, silent=state.silent | {event.source}, held=True, good_since_s=None, on=False
    )
    why = f"{event.source} guards the unit and fell silent"
    marks = [_off(event.t_s, why), Mark(event.t_s, "silence", detail={"source": event.source})]
    if not already_held and state.rearms >= MOST_REARMS and not state.latched:
        state = replace(state, latched=f"{why}, for the {MOST_REARMS + 1}th time")
        marks.append(Mark(event.t_s, "alarm", detail={"why": state.latched}))
    return state, marks


def _maybe_rearm(state: GuardState, t_s: float) -> tuple[GuardState, Sequence[Mark]]:
    since_s = state.good_since_s
    if not state.held or state.silent or state.latched or state.ended or since_s is None:
        return state, []
    if t_s - since_s < GOOD_AGAIN_S:
        return state, []
    again = replace(state, held=False, good_since_s=None, rearms=state.rearms + 1)
    reason = f"good readings for {show_duration(GOOD_AGAIN_S)}"
    return again, [Mark(t_s, "rearmed", detail={"reason": reason, "times": again.rearms})]


def _cut_for_good(
    state: GuardState, t_s: float, why: str, alarm: bool = False
) -> tuple[GuardState, Sequence[Mark]]:
    """Switch off, whatever was ordered before, and never on again in this soak."""
    marks = [_off(t_s, why)]
    if alarm:
        marks.append(Mark(t_s, "alarm", detail={"why": f"{why}; the guard switched off"}))
    return replace(state, ended=True, on=False, latched=state.latched or why), marks


def _off(t_s: float, why: str) -> Mark:
    return Mark(t_s, "power", detail={"on": False, "why": why})
