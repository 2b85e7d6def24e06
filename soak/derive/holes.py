"""Bench-blind spans: nobody can say what the unit did, so nothing counts for or against it."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from soak.derive.spans import Span
from soak.names import source_named
from soak.records import Mark, Session, State
from soak.states import BLIND
from soak.words import Message, msg

NOTE_REACH_S = 60.0
"""An operator's "that was me" without times covers the minute before it. Our own choice."""

EVERYTHING = ""
"""The source of a hole that covers all sources."""


@dataclass(frozen=True, slots=True)
class Hole:
    """A span in which a source (or, with an empty `source`, every source) was not seen."""

    from_s: float
    to_s: float
    source: str
    why: Message


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
    return [
        Hole(a[1], b[0], EVERYTHING, msg("nobody looked between two sessions")) for a, b in pairs
    ]


def periods(
    states: Sequence[State], sessions: Sequence[Span], seen_from_s: float | None = None
) -> list[Period]:
    """Return what a source was seen to be, without a hole in time within each session.

    Before its first state in a session a source is blind.

    Parameters
    ----------
    seen_from_s : float or None
        First reading of a source that never says a state.
    """
    found: list[Period] = []
    for begins_s, until_s in sessions:
        here = [state for state in states if begins_s <= state.t_s <= until_s]
        if not here and seen_from_s is not None and seen_from_s <= until_s:
            here = [State(max(seen_from_s, begins_s), "", "seen")]
        at, now, within_s = begins_s, BLIND, 0.0
        for state in here:
            if state.state != now:
                found.append(Period(at, state.t_s, now, within_s, True))
                at, now, within_s = state.t_s, state.state, state.within_s
        found.append(Period(at, until_s, now, within_s, False))
    return [period for period in found if period.to_s > period.from_s]


def told_holes(
    marks: Sequence[Mark], states: dict[str, Sequence[State]], ends_s: float
) -> list[Hole]:
    """Return the holes that marks tell of.

    Bench faults, a switch that did not answer, a guarding probe's silence, a host that slept, an
    operator's "that was me".
    """
    found = []
    for at, mark in enumerate(marks):
        later = marks[at + 1 :]
        if mark.what == "note" and mark.detail.get("was_me"):
            to_s = _number(mark.detail.get("to_s"), mark.t_s)
            from_s = _number(mark.detail.get("from_s"), to_s - NOTE_REACH_S)
            found.append(
                Hole(min(from_s, to_s), to_s, EVERYTHING, msg("the operator: that was me"))
            )
        elif mark.what == "plugged in":
            from_s = _number(mark.detail.get("from_s"), mark.t_s)
            found.append(Hole(from_s, mark.t_s, EVERYTHING, msg("a hand at the plug, on cue")))
        elif mark.what == "host slept":
            from_s = mark.t_s - _number(mark.detail.get("for_s"), 0.0)
            found.append(Hole(from_s, mark.t_s, EVERYTHING, msg("the host slept")))
        elif mark.what == "bench fault":
            found.append(_bench_fault(mark, later, states, ends_s))
        elif mark.what in ("power unanswered", "silence"):
            to_s = next((m.t_s for m in later if m.what == "power"), ends_s)
            if mark.what == "silence":  # the cut itself is answered by a mark of power off
                back = (m.t_s for m in later if m.what == "power" and m.detail.get("on"))
                to_s = next(back, ends_s)
            why = (
                msg("a probe fell silent")
                if mark.what == "silence"
                else msg("the switch did not answer")
            )
            from_s = mark.t_s if mark.what == "silence" else _asked_s(mark, marks[:at])
            found.append(Hole(from_s, to_s, EVERYTHING, why))
    return found


def _asked_s(unanswered: Mark, before: Sequence[Mark]) -> float:
    """Return since when nobody knew the power: of a person who is the switch, since the question.

    What nobody answered may have been done all the same.
    """
    for mark in reversed(before):
        if mark.what == "power":
            break
        if mark.what == "question" and str(mark.detail.get("id", "")).startswith("switch."):
            return mark.t_s
    return unanswered.t_s


def _number(value: object, default: float) -> float:
    return float(value) if isinstance(value, int | float) else default


def _bench_fault(
    mark: Mark, later: Sequence[Mark], states: dict[str, Sequence[State]], ends_s: float
) -> Hole:
    """Return the hole from a bench fault until the instrument is said or seen to work again."""
    instrument = str(mark.detail.get("instrument", ""))
    what = msg(
        "{instrument}: {what}",
        instrument=source_named(instrument) if instrument else msg("bench"),
        what=str(mark.detail.get("what") or "") or msg("bench fault"),
    )
    known = instrument in states and instrument != "switch"
    if known and not _blind_at(mark.t_s, states[instrument]):
        return Hole(mark.t_s, mark.t_s, instrument, what)  # it still sees, and says so itself
    ends = [
        m.t_s
        for m in later
        if (m.what == "bench well" and m.detail.get("instrument") == instrument)
        or (instrument == "switch" and m.what == "power")
    ]
    ends += [
        state.t_s
        for state in states.get(instrument, ())
        if state.t_s > mark.t_s and state.state != BLIND
    ]
    source = instrument if known else EVERYTHING
    return Hole(mark.t_s, min(ends, default=ends_s), source, what)


def _blind_at(t_s: float, states: Sequence[State]) -> bool:
    """Tell whether a source was blind at a time or became so within a second of it."""
    until = [state for state in states if state.t_s <= t_s]
    near = [state for state in states if t_s <= state.t_s <= t_s + 1]
    return not until or until[-1].state == BLIND or any(state.state == BLIND for state in near)
