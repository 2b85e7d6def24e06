"""What befell a port while its plug was moved, and while it was let alone."""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from soak.derive.course import Course
from soak.derive.events.bouts import Seen
from soak.derive.events.faults import UnitFault, port_faults, terms_of, wrong_data
from soak.derive.said import EPISODES_TOLD, state_words
from soak.derive.spans import Span, common, inside, merged, minus, total_s
from soak.frozen.wiring import role_of
from soak.instruments import ROLES, WATCHES
from soak.marks import MovementBegins, fact_as
from soak.records import Mark, Requirement
from soak.states import lost
from soak.terms import MovedTerms
from soak.words import Message, Stated, joined, msg

REST = "rest"
"""What the time without a movement is called in marks."""


@dataclass(frozen=True, slots=True)
class Event:
    """A loss at the port.

    Attributes
    ----------
    from_s, to_s : float
        From when to when, s of soak time.
    what : tuple of Message
        What was seen, in a few words each.
    """

    from_s: float
    to_s: float
    what: tuple[Message, ...]

    @property
    def text(self) -> Message:
        """All that was seen."""
        return joined("; ", self.what)


@dataclass(frozen=True, slots=True)
class Moved:
    """One movement, or the rest: `seen_s` of it were watched; `events` began in it."""

    movement: str
    repeat: int
    from_s: float
    to_s: float
    seen_s: float
    events: tuple[Event, ...]


def movements(need: Requirement, terms: MovedTerms, course: Course) -> list[Moved]:
    """Return the movements of one soak, with the rest, and what began in each."""
    events = _episodes(need, terms, course)
    unseen = unseen_at(need, terms, course)
    if terms.moved_by == "servo":  # where it was lost nothing was moved
        unseen = merged([*unseen, *course.blind("servo")])
    ends = _own(need, terms, course, "ends")
    begins = _own(need, terms, course, "begins")
    moves = []
    for number, mark in enumerate(begins):
        next_s = begins[number + 1].t_s if number + 1 < len(begins) else course.ends_s
        to_s = next((e.t_s for e in ends if mark.t_s <= e.t_s <= next_s), next_s)
        # What the hand does last may show only as it lets go: the pause belongs to the movement.
        until_s = min(next_s, to_s + terms.pause_s)
        seen_s = total_s(minus(common([(mark.t_s, to_s)], course.started), unseen))
        mine = tuple(event for event in events if mark.t_s <= event.from_s < until_s)
        moved = fact_as(mark, MovementBegins)
        moves.append(
            Moved(moved.movement, moved.repeat, mark.t_s, to_s=to_s, seen_s=seen_s, events=mine)
        )
    return moves


def placed_in(moved: Iterable[Moved]) -> Seen:
    """Place what befell the port in the time watched of these movements."""
    times_s: list[float] = []
    before_s = 0.0
    for move in moved:
        # What began in the pause after a movement is that movement's, at its end.
        times_s += [before_s + min(e.from_s - move.from_s, move.seen_s) for e in move.events]
        before_s += move.seen_s
    return Seen(times_s, before_s)


def _own(need: Requirement, terms: MovedTerms, course: Course, which: str) -> list[Mark]:
    return [
        mark
        for mark in course.marks(f"movement {which}")
        if mark.stretch == need.stretch and fact_as(mark, MovementBegins).port == terms.port
    ]


def unseen_at(need: Requirement, terms: MovedTerms, course: Course) -> list[Span]:
    """Return when one of the sources at the port did not see it."""
    bad = {source: lost(source, course.header.model_sheet) for source in terms.sources}
    bad["capture"] = terms_of(need, course.header).bad
    return merged([span for source in terms.sources for span in course.unseen(source, bad[source])])


def _episodes(need: Requirement, terms: MovedTerms, course: Course) -> list[Event]:
    """Return what befell the port, whatever saw it; what lies close together is one episode."""
    events = [*_lost(need, terms, course), *_fell(terms, course), *_drained(need, terms, course)]
    episodes: list[Event] = []
    for event in sorted(events, key=lambda one: (one.from_s, one.to_s)):
        if episodes and event.from_s - episodes[-1].to_s <= terms.episode_gap_s:
            before = episodes[-1]
            also = tuple(dict.fromkeys([*before.what, *event.what]))
            episodes[-1] = Event(before.from_s, max(before.to_s, event.to_s), also)
        else:
            episodes.append(event)
    return episodes


def _lost(need: Requirement, terms: MovedTerms, course: Course) -> list[Event]:
    events = []
    if "capture" in terms.sources:
        counts = terms_of(need, course.header)
        for episode in course.episodes("capture", counts.bad, counts.gap_s, counts.usual_start_s):
            state = state_words(episode.dropouts[0].state)
            what = msg("{what} ({state})", what=EPISODES_TOLD[episode.kind], state=state)
            events.append(Event(episode.from_s, episode.to_s, (what,)))
    for source in terms.sources:
        at_port = ROLES[role_of(source)].at_port
        if at_port is not None:
            events += [
                _whole(port_fault, at_port.gone) for port_fault in port_faults(course, source)
            ]
    if "stick" in terms.sources:
        events += [_whole(fault, msg("wrong data")) for fault in wrong_data(course)]
    return events


def _whole(fault: UnitFault, what: Message) -> Event:
    return Event(fault.from_s, fault.to_s, (what,))


def _fell(terms: MovedTerms, course: Course) -> list[Event]:
    """Return when what is watched at the port came down to a lower speed."""
    events = []
    for role in WATCHES:
        if role in terms.sources:
            t_s, mbps = course.series(f"{role}.speed")
            down = np.flatnonzero(np.diff(mbps) < 0) + 1
            events += [_at(t_s[at], WATCHES[role].fell(Stated(mbps[at], "Mb/s"))) for at in down]
    return events


def _drained(need: Requirement, terms: MovedTerms, course: Course) -> list[Event]:
    """Return when a supply current fell below half of its median in the stretch.

    Half as for the voltage of a contact under test: IEC 60512-2-5.
    """
    events = []
    windows = common(course.windows(need.stretch), course.started)
    for source in terms.sources:
        if source.startswith("probe."):
            t_s, ampere = course.series(source)
            chosen = inside(t_s, windows)
            if chosen.any():
                half = float(np.median(ampere[chosen])) / 2
                low = np.flatnonzero(chosen & (ampere < half))
                events += [_at(t_s[at], msg("current fell")) for at in low]
    return events


def _at(t_s: float, what: Message) -> Event:
    return Event(float(t_s), float(t_s), (what,))
