"""Bench-blind spans: nobody can say what the unit did, so nothing counts for or against it."""

import itertools
import math
from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from soak.derive.spans import Span
from soak.evidence import Floats
from soak.frozen.fixture import Own
from soak.marks import (
    BenchFaulted,
    BenchWell,
    FellSilent,
    HostSlept,
    Noted,
    PluggedIn,
    PowerChanged,
    PowerUnanswered,
    QuestionAsked,
    StateSaid,
    StoodStill,
    fact_of,
    facts_in,
    said_by,
)
from soak.names import source_named
from soak.records import Mark, Session, State
from soak.states import BLIND, PROTECTED, STALLED, UNSEEN
from soak.words import Message, msg

NOTE_REACH_S = 60.0
"""An operator's "that was me" without times covers the minute before it. Our own choice."""

EVERYTHING = ""
"""The source of a hole that covers all sources."""

REOPENING_S = 10.0
"""What an instrument shows so soon after it was opened again may be its own doing, at most. Our own
choice."""

REOPENING_LEAST_S, REOPENING_PER_S = 1.0, 2.0
"""And no longer than this, with so much for each s that it was away: what was gone for a moment is
not opened anew for long. Our own choice."""

GIVING_WAY_S = 60.0
"""An instrument about to fail may show nonsense for so long before it goes blind. All are our own
choice: the longest reopening and the slowest failure of a capture card that we allow for."""

DRIVERS_WAIT_S = 5.0
"""Whose reader stays away for longer may be given up by a driver, or lose what it kept in store.
Our own choice."""

DYING_S = 2.0
"""A computer that goes down takes its instruments with it within so long. Our own choice."""


@dataclass(frozen=True, slots=True)
class Hole:
    """A span in which a source (or, with an empty `source`, every source) was not seen.

    Attributes
    ----------
    before_s, after_s : float
        What was seen for so long before and after it may be its own doing, s: until the source
        gave way, and since it was opened again. Who looked away explains no more than that.
    unit_too : bool
        Whether the unit itself may have been touched meanwhile, its power or its plugs: then no
        other instrument that lost it speaks against it either.
    for_good : bool
        Whether it does not end by itself: then no stretch waits for its end.
    """

    from_s: float
    to_s: float
    source: str
    why: Message
    before_s: float = 0.0
    after_s: float = 0.0
    unit_too: bool = False
    for_good: bool = False

    @property
    def explains(self) -> Span:
        """When what was seen may be its doing."""
        return (self.from_s - self.before_s, self.to_s + self.after_s)


def looked_away(from_s: float, to_s: float, source: str, why: Message) -> Hole:
    """Return a hole through which the source itself went on: it explains nothing but itself."""
    long = to_s - from_s > DRIVERS_WAIT_S
    return Hole(from_s, to_s, source, why, after_s=REOPENING_S if long else 0.0)


def gave_way(from_s: float, to_s: float, source: str, why: Message) -> Hole:
    """Return a hole after which the source was, or may have been, opened again."""
    after_s = min(REOPENING_S, REOPENING_LEAST_S + REOPENING_PER_S * (to_s - from_s))
    return Hole(from_s, to_s, source, why, GIVING_WAY_S, after_s)


def by_hand(from_s: float, to_s: float, why: Message) -> Hole:
    """Return a hole made by a hand at the unit or the bench: nobody times himself to the second."""
    return Hole(from_s, to_s, EVERYTHING, why, REOPENING_S, REOPENING_S, unit_too=True)


@dataclass(frozen=True, slots=True)
class Period:
    """A span in which a source was in one state.

    Attributes
    ----------
    within_s : float
        The true beginning lies within this many s before `from_s`.
    ended : bool
        False if the state still held when the evidence ends.
    """

    from_s: float
    to_s: float
    state: str
    within_s: float
    ended: bool


def session_spans(
    sessions: Sequence[Session], told_s: Sequence[float], ends_s: float
) -> list[Span]:
    """Return begin and end of each session; a session ends where its successor's gap begins.

    Parameters
    ----------
    told_s : sequence of float
        Times of all states and marks in order: the last one before a gap was still seen.
    """
    if not sessions:
        return [(0.0, ends_s)] if ends_s > 0 else []
    spans = []
    for session, follower in zip(sessions, [*sessions[1:], None], strict=True):
        until_s = ends_s
        if follower is not None:
            last_told = [t_s for t_s in told_s if session.begins_at_s <= t_s < follower.begins_at_s]
            until_s = last_told[-1] if last_told else session.begins_at_s
            if follower.gap_s is not None:
                until_s = max(until_s, follower.begins_at_s - follower.gap_s)
            until_s = min(until_s, follower.begins_at_s)
        spans.append((session.begins_at_s, max(until_s, session.begins_at_s)))
    return spans


def gaps(spans: Sequence[Span]) -> list[Hole]:
    """Return the holes between sessions; also one of no length is a break."""
    pairs = itertools.pairwise(spans)
    why = msg("nobody looked between two sessions")
    return [Hole(a[1], b[0], EVERYTHING, why, DYING_S, REOPENING_S) for a, b in pairs]


def periods(
    states: Sequence[State], sessions: Sequence[Span], seen_from_s: float | None = None
) -> list[Period]:
    """Return what a source was seen to be, without a hole in time within each session.

    Before its first state in a session a source is blind. Blindness that was noticed late begins
    where the source was last seen.

    Parameters
    ----------
    seen_from_s : float or None
        First reading of a source that never says a state.
    """
    periods: list[Period] = []
    for begins_s, until_s in sessions:
        here = [state for state in states if begins_s <= state.t_s <= until_s]
        if not here and seen_from_s is not None and seen_from_s <= until_s:
            here = [State(max(seen_from_s, begins_s), "", "seen")]
        at = begins_s
        now = BLIND
        within_s = 0.0
        for state in here:
            if state.state != now:
                since_s = state.t_s
                if state.state == BLIND:
                    last_seen_s = state.t_s - state.within_s
                    if now == STALLED and periods and last_seen_s < at:
                        # A stall is said while it lasts: what came of this one shows none.
                        before = periods.pop()
                        at = before.from_s
                        now = before.state
                        within_s = before.within_s
                    since_s = max(at, last_seen_s)
                periods.append(Period(at, since_s, now, within_s, True))
                at = since_s
                now = state.state
                within_s = state.within_s
        periods.append(Period(at, until_s, now, within_s, False))
    return [period for period in periods if period.to_s > period.from_s]


def blind_holes(source: str, seen: Sequence[Period], states: Sequence[State]) -> list[Hole]:
    """Return the holes of a source that was seen to be blind, or sent what nobody can see.

    A driver that only came late (`late` in the detail) read on from what it had opened; after all
    else the source may have been opened again.
    """
    blind = [state for state in states if state.state == BLIND]
    holes = []
    for period in seen:
        if period.state not in UNSEEN:
            continue
        at = bisect_left(blind, period.from_s, key=lambda state: state.t_s)
        own = at < len(blind) and blind[at].t_s <= period.to_s
        said = said_by(blind[at]) if own else StateSaid()
        why = said.why if said.why else _UNTOLD[period.state]
        made = looked_away if said.late else gave_way
        holes.append(made(period.from_s, period.to_s, source, why))
    return holes


def silences(source: str, t_s: Floats, wired: Own, sessions: Sequence[Span]) -> list[Hole]:
    """Return the holes of a probe that read nothing for longer than its own limit.

    Whatever it says of itself: who is asleep does not say so.

    Parameters
    ----------
    t_s : ndarray
        Times of its readings, shape (n,), in order.
    wired : Own
        What its entry of the fixture says; one without `silent_after_s` has no limit of its own.
    sessions : sequence of (float, float)
        Begin and end of each session; what lies between two is a hole anyway.
    """
    limit_s = max(wired.silent_after_s or math.inf, 2 * wired.every_s)
    holes = []
    for begins_s, until_s in sessions:
        first = np.searchsorted(t_s, begins_s)
        after = np.searchsorted(t_s, until_s, side="right")
        here = t_s[first:after]
        for at in np.flatnonzero(np.diff(here) > limit_s):
            why = msg("it said nothing")
            holes.append(looked_away(float(here[at]), float(here[at + 1]), source, why))
    return holes


def told_holes(
    marks: Sequence[Mark],
    states: dict[str, Sequence[State]],
    sessions: Sequence[Span],
    ends_s: float,
    starts_within_s: float,
) -> list[Hole]:
    """Return the holes that marks tell of.

    Bench faults, a switch that did not answer, a guarding probe's silence, a host that slept or
    a program that stood still, an operator's "that was me".

    Parameters
    ----------
    starts_within_s : float
        A unit whose power came back unseen shows a picture within so long, s.
    """
    holes = []
    for at, mark in enumerate(marks):
        match fact_of(mark):
            case Noted(was_me=True) as note:
                to_s = mark.t_s if note.to_s is None else note.to_s
                from_s = to_s - NOTE_REACH_S if note.from_s is None else note.from_s
                holes.append(by_hand(min(from_s, to_s), to_s, msg("the operator: that was me")))
            case PluggedIn(from_s=begun_s):
                from_s = mark.t_s if begun_s is None else begun_s
                holes.append(by_hand(from_s, mark.t_s, msg("a hand at the plug, on cue")))
            case HostSlept(for_s=for_s):
                from_s = max(0.0, mark.t_s - for_s)
                why = msg("the host slept")
                holes.append(Hole(from_s, mark.t_s, EVERYTHING, why, DYING_S, REOPENING_S, True))
            case StoodStill(spans=spans):
                for from_s, to_s in spans:
                    holes.append(looked_away(float(from_s), float(to_s), EVERYTHING, STOOD_STILL))
            case BenchFaulted() as fault:
                at_last = [*_ends_of(sessions, mark), ends_s]
                later = _Later(marks[at + 1 :], states, at_last, starts_within_s)
                holes.append(_bench_fault(mark.t_s, fault, later))
            case PowerUnanswered():
                to_s = next((m.t_s for m, _ in facts_in(marks[at + 1 :], PowerChanged)), ends_s)
                from_s = _asked_s(mark, marks[:at])
                why = msg("the switch did not answer")
                holes.append(Hole(from_s, to_s, EVERYTHING, why, GIVING_WAY_S, unit_too=True))
            case FellSilent(source=source):  # the cut itself is answered by a mark of power off
                back = (m.t_s for m, power in facts_in(marks[at + 1 :], PowerChanged) if power.on)
                probe = source != "switch"
                why = msg("a probe fell silent") if probe else msg("the switch did not answer")
                to_s = next(back, ends_s)
                holes.append(Hole(mark.t_s, to_s, EVERYTHING, why, GIVING_WAY_S, unit_too=True))
    return holes


STOOD_STILL = msg("this computer stood still")
"""Why a hole is there in which nothing of the program ran."""

_OWN_POWER = ("switch", "guard")
"""Instruments whose fault may have taken the unit's power and given it back, untold."""

_UNTOLD = {
    BLIND: msg("the bench could not see it"),
    PROTECTED: msg("the unit sent its picture as protected output, which no capture can see"),
}


def _ends_of(sessions: Sequence[Span], mark: Mark) -> list[float]:
    """Return when the next session begins: it opens and asks everything anew."""
    return [begins_s for begins_s, _ in sessions if begins_s > mark.t_s][:1]


def _asked_s(unanswered: Mark, before: Sequence[Mark]) -> float:
    """Return since when nobody knew the power: of a person who is the switch, since the question.

    What nobody answered may have been done all the same.
    """
    for mark in reversed(before):
        match fact_of(mark):
            case PowerChanged():
                break
            case QuestionAsked(id=question) if question.startswith("switch."):
                return mark.t_s
    return unanswered.t_s


@dataclass(frozen=True, slots=True)
class _Later:
    """What may end a bench's fault: marks and states after it, other ends; and how a unit starts.

    Attributes
    ----------
    at_last : sequence of float
        Times at which it is over at the latest, s of soak time.
    starts_within_s : float
        A unit whose power came back unseen shows a picture within so long, s.
    """

    marks: Sequence[Mark]
    states: Mapping[str, Sequence[State]]
    at_last: Sequence[float]
    starts_within_s: float


def _bench_fault(t_s: float, fault: BenchFaulted, later: _Later) -> Hole:
    """Return the hole from a bench fault until the instrument is said or seen to work again.

    It ends with the session at the latest: the next one finds out for itself.
    """
    instrument = fault.instrument
    states = later.states
    what = msg(
        "{instrument}: {what}",
        instrument=source_named(instrument) if instrument else msg("bench"),
        what=fault.what or msg("bench fault"),
    )
    known = instrument in states and instrument != "switch"
    if known and not _blind_at(t_s, states[instrument]):
        return Hole(t_s, t_s, instrument, what)  # it still sees, and says so itself
    ends = [m.t_s for m, well in facts_in(later.marks, BenchWell) if well.instrument == instrument]
    if instrument == "switch":
        ends += [m.t_s for m, _ in facts_in(later.marks, PowerChanged)]
    ends += [
        state.t_s
        for state in states.get(instrument, ())
        if state.t_s > t_s and state.state != BLIND
    ]
    source = instrument if known else EVERYTHING
    to_s = min([*ends, *later.at_last])
    if instrument in _OWN_POWER:  # a relay whose adapter goes may open, and close when it is back
        starts_s = later.starts_within_s
        return Hole(t_s, to_s, source, what, GIVING_WAY_S, starts_s, unit_too=True)
    return looked_away(t_s, to_s, source, what)


def _blind_at(t_s: float, states: Sequence[State]) -> bool:
    """Tell whether a source was blind at a time or became so within a second of it."""
    until = [state for state in states if state.t_s <= t_s]
    near = [state for state in states if t_s <= state.t_s <= t_s + 1]
    return not until or until[-1].state == BLIND or any(state.state == BLIND for state in near)
