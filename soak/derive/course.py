"""The course of a soak: what happened, derived once from states, marks and readings."""

from collections.abc import Callable, Sequence
from typing import TypeVar, cast

import numpy as np

from soak.derive.electric import power, supply
from soak.derive.events import dropouts, garbled
from soak.derive.events.came_off import came_off
from soak.derive.events.dropouts import Dropout, Episode
from soak.derive.events.garbled import Aside
from soak.derive.events.gone_dead import gone_dead
from soak.derive.header_terms import start_limit
from soak.derive.seeing import holes, witnesses
from soak.derive.seeing.holes import EVERYTHING, Hole, Period
from soak.derive.spans import Span, common, inside, merged, minus
from soak.derive.starting import starts
from soak.derive.starting.started import started_windows
from soak.derive.starting.starts import Start
from soak.evidence import Evidence, Floats
from soak.frozen.wiring import role_of
from soak.marks import Tripped, fact_as
from soak.records import Header, KeptFile, Mark, Role, Seal, Session, State
from soak.states import PICTURE, PROTECTED, StartLimit, patient_start_limit_s
from soak.words import msg

T = TypeVar("T")

CROSSING = ("through",)
"""Ways in which data crosses the unit's own port while the bench reads the stick. On all others
what the bench itself reads hangs on its own computer, which says nothing about the unit: what it
played or copied, or took in of a stick that was stood in, is judged by rules of their own."""

LATE_STICK_S = 30.0
"""A stick may turn up so much later than the picture after a start. Our own choice."""


class Course:
    """Evidence that remembers what was read and derived from it; itself an `Evidence`.

    Holds for evidence as it is now: make a new one when a running soak has grown.

    Parameters
    ----------
    header : Header or None
        What is stated now, where the ledger corrected what the evidence's own header states.
    """

    def __init__(self, evidence: Evidence, header: Header | None = None) -> None:
        self._evidence = evidence
        self._header = header
        self._kept: dict[tuple[object, ...], object] = {}

    def _once(self, key: tuple[object, ...], make: Callable[[], T]) -> T:
        if key not in self._kept:
            self._kept[key] = make()
        return cast(T, self._kept[key])

    def once(self, key: tuple[object, ...], make: Callable[[], T]) -> T:
        """Return what somebody else derived of this course under a key before; else make it."""
        return self._once(("else", *key), make)

    @property
    def header(self) -> Header:
        return self._header or self._evidence.header

    @property
    def seal(self) -> Seal | None:
        return self._evidence.seal

    @property
    def file_sha256(self) -> str:
        return self._evidence.file_sha256

    @property
    def ends_s(self) -> float:
        return self._once(("ends",), lambda: self._evidence.ends_s)

    def series(self, quantity: str, stretch: str = "") -> tuple[Floats, Floats]:
        """Return times and values that count; of a stretch only what lies in its `windows`.

        What `set_aside` tells of is left out.
        """
        return self._once(
            ("series", quantity, stretch), lambda: self._find_series(quantity, stretch)
        )

    def _find_series(self, quantity: str, stretch: str) -> tuple[Floats, Floats]:
        t_s, value = self._evidence.series(quantity, stretch)
        aside_s = self.set_aside(quantity).at_s
        if len(aside_s):
            kept = ~np.isin(t_s, aside_s)
            t_s = t_s[kept]
            value = value[kept]
        if not stretch or not self.unconfirmed:
            return t_s, value
        counts = inside(t_s, self.windows(stretch))
        return t_s[counts], value[counts]

    def set_aside(self, quantity: str) -> Aside:
        """Return the readings of a quantity that count for nothing: no body can have had them."""
        return self._once(("aside", quantity), lambda: self._find_aside(quantity))

    def _find_aside(self, quantity: str) -> Aside:
        units = {entry.name: entry.unit for entry in self.header.quantities}
        if units.get(quantity) != "degC":
            return Aside()
        trips_s = [
            m.t_s for m in self.marks(Tripped.mark) if fact_as(m, Tripped).source == quantity
        ]
        return garbled.set_aside(*self._evidence.series(quantity), trips_s)

    def states(self, source: str) -> Sequence[State]:
        return self._once(("states", source), lambda: self._evidence.states(source))

    def marks(self, what: str = "") -> Sequence[Mark]:
        return self._once(("marks", what), lambda: self._evidence.marks(what))

    def sessions(self) -> Sequence[Session]:
        return self._once(("sessions",), self._evidence.sessions)

    def kept_files(self) -> Sequence[KeptFile]:
        return self._evidence.kept_files()

    def kept_bytes(self, kept: KeptFile) -> bytes:
        return self._evidence.kept_bytes(kept)

    def windows(self, stretch: str) -> Sequence[Span]:
        """Return the pieces of a stretch that count, with an empty name those of the whole soak.

        Nothing counts before somebody has confirmed that the unit is on.
        """
        return self._once(("windows", stretch), lambda: self._find_windows(stretch))

    def pieces(self, stretch: str) -> Sequence[Span]:
        """Return begin and end of each piece of a stretch, whatever was known of the power."""
        return self._evidence.windows(stretch)

    def _find_windows(self, stretch: str) -> Sequence[Span]:
        whole = self._evidence.windows(stretch) if stretch else self.session_spans
        return minus(whole, self.unconfirmed) if self.unconfirmed else whole

    @property
    def unconfirmed(self) -> list[Span]:
        """When nobody had confirmed that the unit is on, where a person is the switch."""
        return self._once(
            ("unconfirmed",),
            lambda: power.unconfirmed(self.power, self.header.fixture, self.session_spans),
        )

    @property
    def roles(self) -> frozenset[Role]:
        """Roles that the fixture has."""
        return self.header.fixture.roles

    @property
    def sources(self) -> Sequence[str]:
        """Sources of the instruments that the fixture has."""
        return list(self.header.fixture.wired)

    @property
    def session_spans(self) -> list[Span]:
        """Begin and end of each session."""
        return self._once(("spans",), self._find_session_spans)

    def _find_session_spans(self) -> list[Span]:
        marked_s = [mark.t_s for mark in self.marks()]
        marked_s += [state.t_s for source in self.sources for state in self.states(source)]
        return holes.session_spans(self.sessions(), sorted(marked_s), self.ends_s)

    @property
    def power(self) -> list[Span]:
        """Spans with power."""
        return self._once(
            ("power",),
            lambda: power.power_windows(
                self.marks(), self.header.fixture, self.session_spans, self.ends_s
            ),
        )

    @property
    def awake(self) -> list[Span]:
        """Spans in which the unit is meant to run: with power, and not pressed off."""
        return self._once(("awake",), self._find_awake)

    def _find_awake(self) -> list[Span]:
        shown = [(p.from_s, p.to_s) for p in self.periods("capture") if p.state == PICTURE]
        header = self.header
        return power.awake_windows(
            self.power, self.marks(), shown, header.model_sheet, header.fixture
        )

    def periods(self, source: str) -> list[Period]:
        """Return what a source was seen to be; empty if it is not wired."""
        return self._once(("periods", source), lambda: self._find_periods(source))

    def _find_periods(self, source: str) -> list[Period]:
        if source not in self.sources:
            return []
        seen_from_s: float | None = None
        if source.startswith("probe.") and not self.states(source):
            t_s, _ = self.series(source)
            seen_from_s = float(t_s[0]) if len(t_s) else None
        return holes.periods(self.states(source), self.session_spans, seen_from_s)

    @property
    def told_holes(self) -> list[Hole]:
        """Holes that marks tell of, and the gaps between sessions."""
        return self._once(("told",), self._find_told_holes)

    def _find_told_holes(self) -> list[Hole]:
        states = {source: self.states(source) for source in self.sources}
        within_s = patient_start_limit_s(self.header.model_sheet)
        told_of = holes.told_holes(self.marks(), states, self.session_spans, self.ends_s, within_s)
        gaps = holes.gaps(self.session_spans)
        dead = [] if self.gone_dead is None else [self.gone_dead]
        own = [*self._supply_holes(), *dead, *self._probes_off(), *self._torn()]
        return [*told_of, *gaps, *own]

    def _torn(self) -> list[Hole]:
        return [
            Hole(
                *span,
                source,
                msg("{probe}: it read a value that no spot of a unit can have", probe=source),
            )
            for source in self.sources
            for span in self.set_aside(source).torn
        ]

    @property
    def gone_dead(self) -> Hole | None:
        """From when on the unit showed nothing to the end and nothing tells whether it had power.

        None where something tells, or it ran again.
        """
        return self._once(("gone dead",), lambda: gone_dead(self, self._supply_holes()))

    @property
    def dead_spans(self) -> list[Span]:
        """The span of `gone_dead`; empty if there is none."""
        return [] if self.gone_dead is None else [(self.gone_dead.from_s, self.gone_dead.to_s)]

    def _probes_off(self) -> list[Hole]:
        probes = self.header.fixture.probes.items()
        heat = {f"probe.{n}": w.spot for n, w in probes if w.unit == "degC"}
        name = next((source for source, spot in heat.items() if spot == "ambient"), "")
        air = self.series(name) if name and len(self.series(name)[0]) else None
        runs = minus(self.awake, self.dead_spans)  # a unit without power cools down to the room
        return [
            hole
            for source, spot in heat.items()
            if spot not in ("", "ambient")
            for hole in came_off(source, *self.series(source), air, runs)
        ]

    def _supply_holes(self) -> list[Hole]:
        probes = self.header.fixture.probes
        volts = [f"probe.{name}" for name, entry in probes.items() if supply.is_supply(name, entry)]
        within_s = patient_start_limit_s(self.header.model_sheet)
        return [
            hole
            for name in volts
            for hole in supply.gone(name, *self.series(name), self.power, within_s)
        ]

    def holes(self, source: str) -> list[Hole]:
        """Return when the bench could not see a source and why, in order of time."""
        return self._once(("holes", source), lambda: self._find_holes(source))

    def _find_holes(self, source: str) -> list[Hole]:
        told = [hole for hole in self.told_holes if hole.source in (EVERYTHING, source)]
        blind = holes.blind_holes(source, self.periods(source), self.states(source))
        silent: list[Hole] = []
        if role_of(source) == "probe" and source in self.sources:
            own = self.header.fixture.own(source)
            t_s, _ = self._evidence.series(source)  # what was garbled was said all the same
            silent = holes.silences(source, t_s, own, self.session_spans)
        return sorted([*told, *blind, *silent], key=lambda hole: (hole.from_s, hole.to_s))

    def blind(self, source: str) -> list[Span]:
        """Return when the bench could not see a source, whatever the reason."""
        return self._once(
            ("blind", source),
            lambda: merged((hole.from_s, hole.to_s) for hole in self.holes(source)),
        )

    @property
    def protected(self) -> list[Span]:
        """Return when the unit sent its picture protected, so that no capture could see it."""
        return [(p.from_s, p.to_s) for p in self.periods("capture") if p.state == PROTECTED]

    @property
    def starts(self) -> list[Start]:
        """The unit's starts, in order of time."""
        return self._once(("starts",), self._find_starts)

    def _find_starts(self) -> list[Start]:
        pictures = [p.from_s for p in self.periods("capture") if p.state == PICTURE]
        watched = "capture" in self.roles
        unseen = self.holes("capture")
        starts_ = starts.find_starts(
            self.marks(), self.awake, pictures if watched else None, unseen
        )
        if not watched:
            return starts_
        return starts.with_late_cuts(starts_, self.awake, self.header.model_sheet, unseen)

    def usual_start_s(self, given_s: float | None = None) -> float:
        """Return the usual time from power to picture in s."""
        return starts.usual_start_s(self.starts, self.header.model_sheet, given_s)

    def start_limit(self, demanded_s: float | None = None) -> StartLimit:
        """Return the longest time that a good start takes, and who says so."""
        return start_limit(self.header, self.starts, demanded_s)

    @property
    def started(self) -> list[Span]:
        """Spans in which the unit should show a picture."""
        return self._once(("started",), self._find_started)

    def _find_started(self) -> list[Span]:
        return started_windows(
            self.awake,
            self.starts,
            self.periods("capture") if "capture" in self.roles else None,
            marks=self.marks(),
            fixture=self.header.fixture,
            usual_s=self.usual_start_s(),
            give_up_s=self.start_limit().limit_s,
            # Without a switch nobody knows when the unit was plugged in.
            settled_s=float(self.header.model_sheet.start_s or 0.0)
            if self.roles & {"switch"}
            else 0.0,
        )

    def losses(self, source: str, bad: frozenset[str]) -> list[Dropout]:
        """Return the losses of a source, charged and doubtful."""
        return self._once(
            ("losses", source, bad),
            lambda: dropouts.find_dropouts(
                source,
                self.periods(source),
                bad,
                self.started,
                self.holes(source),
                self.usual_start_s() + LATE_STICK_S,
                lambda from_s, to_s: witnesses.saw_it(self, source, from_s, to_s),
            ),
        )

    def episodes(
        self, source: str, bad: frozenset[str], gap_s: float = 2.0, usual_s: float | None = None
    ) -> list[Episode]:
        """Return the charged losses of a source joined to episodes."""
        return self._once(
            ("episodes", source, bad, gap_s, usual_s),
            lambda: dropouts.episodes(
                self.losses(source, bad), gap_s, self.usual_start_s(usual_s), self._alive
            ),
        )

    def unseen(self, source: str, bad: frozenset[str] = frozenset()) -> list[Span]:
        """Return when a source was not seen, with the losses that are in doubt."""
        doubtful = [(d.from_s, d.to_s) for d in self.losses(source, bad) if not d.charged]
        return merged([*self.blind(source), *doubtful])

    @property
    def stick_proves_unit(self) -> bool:
        """Whether data on the stick crosses the unit's port."""
        return self.header.fixture.stick_path in CROSSING

    def _alive(self, from_s: float, to_s: float) -> bool:
        """Tell whether data kept crossing the unit's port, so that it cannot have restarted."""
        if "stick" not in self.roles or not self.stick_proves_unit:
            return False
        t_s, _ = self.series("transfer.stick.speed")
        first, last = np.searchsorted(t_s, [from_s + 1, to_s - 1])
        gone = [(p.from_s, p.to_s) for p in self.periods("stick") if p.state != "seen"]
        return bool(last > first) and not common(gone, [(from_s, to_s)])


def course_of(evidence: Evidence) -> Course:
    """Return the course of a soak; the same one if it already is a course."""
    return evidence if isinstance(evidence, Course) else Course(evidence)
