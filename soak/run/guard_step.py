"""The guard's rules as a pure step: (state, event) to (state, orders).

The orders are marks: `power` with `on` false is an order to switch off, `voltage` one to set the
supply, `break` one to break the power for a moment; `trip`, `silence`, `rearmed` and `alarm` are
for the record and for people. Property tests run on this function.

What happened is said before anything is done about it: an off that nobody confirms is tried for
ever, and must not keep its own reason off the record.

Off comes first, whatever the voltage: a supply that does not take its voltage must not keep a unit
on. Each off then returns the supply to nominal, and another voltage is set only while the unit is
off. So whoever dies and when: what is left is off, and nominal as soon as anybody can set it.

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
LONGEST_BREAK_S = 2.0
"""A break is one command, in which the guard hears nothing else; so no longer. Our own choice."""
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
    nominal_v : float or None
        Voltage to which the supply returns at each off, V; None: its voltage is not set.
    volt : float or None
        What it was last ordered to, V; None: not known.
    highest_v, accuracy_v : float
        More than this must not be fed, and it is known to so much, V.
    gives : float
        How many times what it was set to the supply was read to give.
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
    nominal_v: float | None = None
    volt: float | None = None
    highest_v: float = math.inf
    accuracy_v: float = 0.0
    gives: float = 1.0

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
class WishVoltage:
    """The runner wishes the supply set to `volt` for the next start."""

    t_s: float
    volt: float
    why: str = ""


@dataclass(frozen=True, slots=True)
class WishBreak:
    """The runner wishes the power broken for `for_s`."""

    t_s: float
    for_s: float
    why: str = ""


@dataclass(frozen=True, slots=True)
class Value:
    """A guarding probe read a value."""

    t_s: float
    source: str
    value: float


@dataclass(frozen=True, slots=True)
class Fed:
    """The supply says that it gives `volt`; None: it does not say."""

    t_s: float
    volt: float | None


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


GuardEvent = (
    Wish | WishVoltage | WishBreak | Value | Fed | Silent | Tick | End | Unheard | Gone | Woke
)


def guard_step(state: GuardState, event: GuardEvent) -> tuple[GuardState, Sequence[Mark]]:
    """Return the next state, and the orders and statements that follow from the event."""
    match event:
        case Wish():
            return _wish(state, event)
        case WishVoltage():
            return _wish_voltage(state, event)
        case WishBreak():
            return _wish_break(state, event)
        case Value():
            return _value(state, event)
        case Fed():
            return _fed(state, event)
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
        return _cut(state, wish.t_s, wish.why)
    if not state.allows_on:
        return state, []
    on = Mark(wish.t_s, "power", detail={"on": True, "why": wish.why})
    if state.nominal_v is not None and state.volt is None:
        first = _voltage(wish.t_s, state.nominal_v, "nominal before the power")
        return replace(state, on=True, volt=state.nominal_v), [first, on]
    return replace(state, on=True), [on]


def _wish_voltage(state: GuardState, wish: WishVoltage) -> tuple[GuardState, Sequence[Mark]]:
    if state.nominal_v is None or state.on or not state.allows_on or too_high(state, wish.volt):
        return state, []
    return replace(state, volt=wish.volt), [_voltage(wish.t_s, wish.volt, wish.why)]


def _wish_break(state: GuardState, wish: WishBreak) -> tuple[GuardState, Sequence[Mark]]:
    """Allow a break of a running unit; it is on again afterwards, so the state stays on."""
    if state.nominal_v is None or not state.on or not state.allows_on:
        return state, []
    detail = {"for_s": min(wish.for_s, LONGEST_BREAK_S), "why": wish.why}
    return state, [Mark(wish.t_s, "break", detail=detail)]


def _value(state: GuardState, event: Value) -> tuple[GuardState, Sequence[Mark]]:
    guarding = state.guarding.get(event.source)
    if guarding is None:
        return state, []
    if guarding.trip is not None and event.value >= guarding.trip and not state.latched:
        detail = {"source": event.source, "value": event.value, "limit": guarding.trip}
        name = guarding.text or event.source
        why = f"{name} reached {event.value:g}, the trip is {guarding.trip:g}"
        state, offs = _cut(state, event.t_s, why)
        return replace(state, latched=why), [Mark(event.t_s, "trip", detail=detail), *offs]
    if event.source in state.silent:
        silent = state.silent - {event.source}
        state = replace(state, silent=silent, good_since_s=None if silent else event.t_s)
    return _maybe_rearm(state, event.t_s)


def too_high(state: GuardState, volt: float) -> str:
    """Say why a voltage must not be set, by what the supply gave before; empty if it may be."""
    would_v = volt * state.gives
    if state.gives <= 1 or would_v <= state.highest_v:
        return ""
    return (
        f"gives {state.gives:.2f} times what it is set to, so {volt:g} V would be {would_v:.2f} V, "
        f"and the unit is rated for at most {state.highest_v:g} V; look at the supply"
    )


def _fed(state: GuardState, event: Fed) -> tuple[GuardState, Sequence[Mark]]:
    """Cut for good where the unit gets more than it is rated for, or where nobody can tell."""
    if not state.on or state.latched:
        return state, []
    if event.volt is None:
        why = "the supply does not say what it gives, so nobody can tell whether that is too much"
    elif event.volt > state.highest_v + state.accuracy_v:
        why = (
            f"the supply gives {event.volt:.2f} V, and the unit is rated for at most "
            f"{state.highest_v:g} V; look at the supply before anything is wired to it"
        )
    else:
        more = state.volt is not None and event.volt > state.volt + state.accuracy_v
        return replace(state, gives=event.volt / state.volt if more and state.volt else 1.0), []
    return _cut_for_good(state, event.t_s, why, alarm=True)


def _silent(state: GuardState, event: Silent) -> tuple[GuardState, Sequence[Mark]]:
    if event.source not in state.guarding or event.source in state.silent:
        return state, []
    already_held = state.held
    state = replace(state, silent=state.silent | {event.source}, held=True, good_since_s=None)
    why = f"{event.source} guards the unit and fell silent"
    state, offs = _cut(state, event.t_s, why)
    marks = [Mark(event.t_s, "silence", detail={"source": event.source}), *offs]
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
    state, offs = _cut(state, t_s, why)
    detail = {"why": f"{why}; the guard switches off"}
    marks = [*([Mark(t_s, "alarm", detail=detail)] if alarm else []), *offs]
    return replace(state, ended=True, latched=state.latched or why), marks


def _cut(state: GuardState, t_s: float, why: str) -> tuple[GuardState, Sequence[Mark]]:
    """Order off, and then the supply back to nominal where it may stand elsewhere."""
    off = Mark(t_s, "power", detail={"on": False, "why": why})
    if state.nominal_v is None or state.volt == state.nominal_v:
        return replace(state, on=False), [off]
    detail = {"volt": state.nominal_v, "why": "back to nominal", "back": True}
    back = Mark(t_s, "voltage", detail=detail)
    return replace(state, on=False, volt=state.nominal_v), [off, back]


def _voltage(t_s: float, volt: float, why: str) -> Mark:
    return Mark(t_s, "voltage", detail={"volt": volt, "why": why})
