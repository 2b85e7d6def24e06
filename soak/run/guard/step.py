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

from soak.marks import (
    Alarm,
    BreakOrdered,
    FellSilent,
    PowerChanged,
    Rearmed,
    Tripped,
    VoltageSet,
    mark_of,
)
from soak.records import Mark
from soak.run.guard.events import (
    Answered,
    End,
    Fed,
    Gone,
    GuardEvent,
    Silent,
    Tick,
    Unanswered,
    Unheard,
    Value,
    Wish,
    WishBreak,
    WishVoltage,
    Woke,
)
from soak.words import (
    NOTHING_SAID,
    Amount,
    Message,
    Number,
    Stated,
    all_of,
    counted,
    message_of,
    msg,
)

GOOD_AGAIN_S = 60.0
"""Length of good readings after silence before power is allowed again, s (common practice)."""
LONGEST_BREAK_S = 2.0
"""A break is one command, in which the guard hears nothing else; so no longer. Our own choice."""
MOST_REARMS = 3
"""After so many silences the guard holds the power off for good (common practice)."""
SWITCH = "switch"
"""The source of the switch itself: its adapter is gone, or it does not answer an off."""


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
        Guarding probes that are silent now, and the switch where it is.
    unanswered : bool
        Whether the switch has not answered the last off yet: nobody knows that the unit is off.
    off_s : float
        When it answered one that it had left unanswered, s: nothing before counts as good.
    good_since_s : float or None
        Since when the switch and all guarding probes have spoken again, while held.
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
    unanswered: bool = False
    off_s: float = -math.inf
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
        return not self.why_not

    @property
    def why_not(self) -> Message:
        """Why power may not be switched on now; empty if it may."""
        if self.latched or self.ended:
            return message_of(self.latched) or msg("the soak has ended")
        if self.unanswered:
            return msg("the switch has not answered off")
        if self.silent:
            return counted(
                len(self.silent),
                "{sources} is silent",
                "{sources} are silent",
                sources=all_of(sorted(self.silent)),
            )
        if not self.held:
            return NOTHING_SAID
        return msg("{time} of good readings are not over", time=Amount(GOOD_AGAIN_S, "s"))

    @property
    def may_come_back(self) -> bool:
        """Whether power may come back without a person who begins anew."""
        return self.held and not (self.latched or self.ended)


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
        case Unanswered():
            return _unanswered(state, event.t_s)
        case Answered():
            return _answered(state, event.t_s)
        case Tick():
            return _maybe_rearm(state, event.t_s)
        case End():
            return _cut_for_good(state, event.t_s, event.why)
        case Unheard():
            if state.ended or event.for_s < state.beat_within_s:
                return state, []
            why = msg("the runner has not been heard for {time}", time=Amount(event.for_s, "s"))
            return _cut_for_good(state, event.t_s, why, alarm=True)
        case Gone():
            return _cut_for_good(state, event.t_s, msg("the runner is gone"))
        case Woke():
            why = msg("the host slept for {time}", time=Amount(event.slept_s, "s"))
            return _cut_for_good(state, event.t_s, why, alarm=True)


def _wish(state: GuardState, wish: Wish) -> tuple[GuardState, Sequence[Mark]]:
    if not wish.on:
        return _cut(state, wish.t_s, wish.why)
    if not state.allows_on:
        return state, []
    on = mark_of(wish.t_s, PowerChanged(on=True, why=wish.why))
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
    order = BreakOrdered(for_s=min(wish.for_s, LONGEST_BREAK_S), why=wish.why)
    return state, [mark_of(wish.t_s, order)]


def _value(state: GuardState, event: Value) -> tuple[GuardState, Sequence[Mark]]:
    guarding = state.guarding.get(event.source)
    if guarding is None:
        return state, []
    if guarding.trip is not None and event.value >= guarding.trip and not state.latched:
        trip = Tripped(source=event.source, value=event.value, limit=guarding.trip)
        why = msg(
            "{probe} reached {read}, the trip is {limit}",
            probe=guarding.text or event.source,
            read=Amount(event.value, "degC"),
            limit=Amount(guarding.trip, "degC"),
        )
        state, offs = _cut(state, event.t_s, why)
        return replace(state, latched=why), [mark_of(event.t_s, trip), *offs]
    if event.source == SWITCH and state.unanswered:
        return state, []  # that its adapter is there proves no off
    return _maybe_rearm(_heard_again(state, event.source, event.t_s), event.t_s)


def _heard_again(state: GuardState, source: str, t_s: float) -> GuardState:
    if source not in state.silent:
        return state
    silent = state.silent - {source}
    since_s = None if silent else max(t_s, state.off_s)
    return replace(state, silent=silent, good_since_s=since_s)


def too_high(state: GuardState, volt: float) -> Message:
    """Say why a voltage must not be set, by what the supply gave before; empty if it may be."""
    would_v = volt * state.gives
    if state.gives <= 1 or would_v <= state.highest_v:
        return NOTHING_SAID
    return msg(
        "gives {times} times what it is set to, so {volt} would be {would} V, and the unit is "
        "rated for at most {highest}; look at the supply",
        times=Number(state.gives, ".2f"),
        volt=Stated(volt, "V"),
        would=Number(would_v, ".2f"),
        highest=Stated(state.highest_v, "V"),
    )


def _fed(state: GuardState, event: Fed) -> tuple[GuardState, Sequence[Mark]]:
    """Cut for good where the unit gets more than it is rated for, or where nobody can tell."""
    if not state.on or state.latched:
        return state, []
    if event.volt is None:
        why = msg(
            "the supply does not say what it gives, so nobody can tell whether that is too much"
        )
    elif event.volt > state.highest_v + state.accuracy_v:
        why = msg(
            "the supply gives {volt} V, and the unit is rated for at most {highest}; look at the "
            "supply before anything is wired to it",
            volt=Number(event.volt, ".2f"),
            highest=Stated(state.highest_v, "V"),
        )
    else:
        more = state.volt is not None and event.volt > state.volt + state.accuracy_v
        return replace(state, gives=event.volt / state.volt if more and state.volt else 1.0), []
    return _cut_for_good(state, event.t_s, why, alarm=True)


def _silent(state: GuardState, event: Silent) -> tuple[GuardState, Sequence[Mark]]:
    if event.source not in state.guarding or event.source in state.silent:
        return state, []
    state, said = _fell_silent(state, event.t_s, event.source)
    state, offs = _cut(state, event.t_s, _silence(event.source))
    return state, [*said, *offs]


def _unanswered(state: GuardState, t_s: float) -> tuple[GuardState, Sequence[Mark]]:
    """Take an off that nobody answered for the switch's silence; it is told again all the same."""
    state = replace(state, unanswered=True, on=False)
    if state.ended or state.latched or SWITCH in state.silent:
        return state, []
    return _fell_silent(state, t_s, SWITCH)


def _answered(state: GuardState, t_s: float) -> tuple[GuardState, Sequence[Mark]]:
    state = replace(state, unanswered=False, off_s=t_s)
    if state.good_since_s is not None:
        state = replace(state, good_since_s=t_s)
    return _heard_again(state, SWITCH, t_s), []


def _fell_silent(state: GuardState, t_s: float, source: str) -> tuple[GuardState, list[Mark]]:
    """Hold the power, for good where that was too often; say it, and call a person then."""
    already_held = state.held
    state = replace(state, silent=state.silent | {source}, held=True, good_since_s=None)
    marks = [mark_of(t_s, FellSilent(source=source))]
    if not already_held and state.rearms >= MOST_REARMS and not state.latched:
        latched = msg(
            "{silence}, for the {number}th time", silence=_silence(source), number=MOST_REARMS + 1
        )
        state = replace(state, latched=latched)
        marks.append(mark_of(t_s, Alarm(why=latched)))
    return state, marks


def _silence(source: str) -> Message:
    if source == SWITCH:
        return msg("the switch fell silent")
    return msg("{source} guards the unit and fell silent", source=source)


def _maybe_rearm(state: GuardState, t_s: float) -> tuple[GuardState, Sequence[Mark]]:
    since_s = state.good_since_s
    if not state.may_come_back or state.silent or state.unanswered or since_s is None:
        return state, []
    if t_s - since_s < GOOD_AGAIN_S:
        return state, []
    again = replace(state, held=False, good_since_s=None, rearms=state.rearms + 1)
    reason = msg("good readings for {good_again_s}", good_again_s=Amount(GOOD_AGAIN_S, "s"))
    return again, [mark_of(t_s, Rearmed(reason=reason, times=again.rearms))]


def _cut_for_good(
    state: GuardState, t_s: float, why: str, alarm: bool = False
) -> tuple[GuardState, Sequence[Mark]]:
    """Switch off, whatever was ordered before, and never on again in this soak."""
    state, offs = _cut(state, t_s, why)
    alarms = (
        [mark_of(t_s, Alarm(why=msg("{why}; the guard switches off", why=why)))] if alarm else []
    )
    marks = [*alarms, *offs]
    return replace(state, ended=True, latched=state.latched or why), marks


def _cut(state: GuardState, t_s: float, why: str) -> tuple[GuardState, Sequence[Mark]]:
    """Order off, and then the supply back to nominal where it may stand elsewhere."""
    off = mark_of(t_s, PowerChanged(on=False, why=why))
    if state.nominal_v is None or state.volt == state.nominal_v:
        return replace(state, on=False), [off]
    back = mark_of(t_s, VoltageSet(volt=state.nominal_v, why="back to nominal", back=True))
    return replace(state, on=False, volt=state.nominal_v), [off, back]


def _voltage(t_s: float, volt: float, why: str) -> Mark:
    return mark_of(t_s, VoltageSet(volt=volt, why=why))
