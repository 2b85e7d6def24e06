"""What a soak's header stated of its unit, as the ledger has corrected it since.

The header is sealed and stays. What was recorded before that soak, and withdrawn or corrected
since, is put right here for the grade and for pages made now; nothing recorded after it comes in.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeVar

from sqlalchemy import Connection

from soak.frozen.references import References
from soak.frozen.shape import as_json
from soak.frozen.unit import BackStated, OpenedStated, RepairStated, UnitStated, WipedStated
from soak.ledger.amending.corrected import (
    BACK,
    JOB,
    REPAIR,
    SOAK,
    WIPING,
    Correction,
    Corrections,
    Fact,
    UnitRow,
    facts,
    unit_rows,
)
from soak.ledger.days import When, minute_of
from soak.ledger.jobs import as_repair, last_wipe
from soak.ledger.returning.for_header import back_stated, repair_stated, wiped_stated
from soak.ledger.sales import returns
from soak.records import Header, Json

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Amended:
    """One thing that was stated when a soak began, and is corrected since.

    Attributes
    ----------
    kind : str
        The kind of entry, or `serial`.
    what : str
        What it said then.
    now : str
        What it says now; empty if it is withdrawn.
    correction : int
        The entry that did it last.
    """

    kind: str
    what: str
    now: str
    why: str
    by: str
    on: str
    correction: int


@dataclass(frozen=True, slots=True)
class OpenedSince:
    """The unit was opened after a soak began.

    Attributes
    ----------
    during : bool
        Whether that was surely while it ran.
    withdrawn : str
        Why that was withdrawn; empty if it stands.
    """

    on: str
    why: str
    during: bool
    withdrawn: str


@dataclass(frozen=True, slots=True)
class Restated:
    """What is stated now.

    Attributes
    ----------
    header : Header
        What the soak's own header would state, had it been written right; its `unit` has
        `opened_during` too, when the unit was opened while the soak ran.
    """

    header: Header
    amended: Sequence[Amended] = ()
    opened: Sequence[OpenedSince] = ()


def restated(connection: Connection, header: Header) -> Restated:
    """Return a soak's header as corrected since, and by what.

    One of a soak that the ledger does not have stays as it is.
    """
    soak = _soak(connection, header.soak_id)
    if soak is None:
        return Restated(header)
    now = Corrections.read(connection)
    facts = _told(connection, soak, now)
    opened = _opened(connection, facts.row, soak, now)
    during = tuple(
        OpenedStated(on=since.on, why=since.why)
        for since in opened
        if since.during and not since.withdrawn
    )
    stated = replace(header.unit, opened_during=during)
    if facts.same:
        return Restated(replace(header, unit=stated), (), opened)
    unit = facts.unit(stated)
    references = facts.references(header.references)
    amended = (*facts.serial(header.unit), *facts.amended())
    return Restated(replace(header, unit=unit, references=references), amended, opened)


def amended(
    connection: Connection, soak_id: str, corrections: Corrections | None = None
) -> Sequence[Amended]:
    """Return what a soak stood on, its serial aside, and `corrections` (or all) have changed."""
    soak = _soak(connection, soak_id)
    if soak is None:
        return ()
    facts = _told(connection, soak, corrections or Corrections.read(connection))
    return () if facts.same else facts.amended()


def _soak(connection: Connection, soak_id: str) -> Fact | None:
    return next((fact for fact in facts(connection, SOAK) if fact["soak_id"] == soak_id), None)


def _told(connection: Connection, soak: Fact, now: Corrections) -> "_Told":
    row = next(unit_row for unit_row in unit_rows(connection) if unit_row.id == soak.unit_id)
    return _Told(
        connection, row, soak.entry, then=Corrections.read(connection, before=soak.entry), now=now
    )


@dataclass(frozen=True, slots=True)
class _Told:
    """Two tellings of what was recorded before a soak: as it stood then, and as it stands now."""

    connection: Connection
    row: UnitRow
    before: int
    then: Corrections
    now: Corrections

    @property
    def same(self) -> bool:
        """Whether nothing was corrected since."""
        return len(self.then.all) == len(self.now.all)

    def amended(self) -> tuple[Amended, ...]:
        """Return what was stated otherwise then."""
        return tuple(fact for kind in _TELLING for fact in self.of(kind))

    def both(self, kind: str) -> tuple[Sequence[Fact], Sequence[Fact]]:
        """Return the entries of a kind as they stood then, and as they stand now."""
        first, second = (
            facts(self.connection, kind, unit=self.row, before=self.before, corrections=corrections)
            for corrections in (self.then, self.now)
        )
        return first, second

    def of(self, kind: str) -> list[Amended]:
        """Return what differs of a kind of entry."""
        first, second = ({fact.entry: fact for fact in facts} for facts in self.both(kind))
        return [
            _amended(kind, self.now.last(entry), _said(first.get(entry)), _said(second.get(entry)))
            for entry in sorted({*first, *second})
            if _said(first.get(entry)) != _said(second.get(entry))
        ]

    def serial(self, unit: UnitStated) -> list[Amended]:
        """Return that the serial was corrected."""
        if unit.serial == self.row.serial:
            return []
        by = self.now.last(self.row.first_entry)
        return [_amended("serial", by, unit.serial, self.row.serial)]

    def unit(self, unit: UnitStated) -> UnitStated:
        """Return the statement put right."""
        return replace(
            unit,
            serial=self.row.serial,
            repairs=self._repairs(unit.repairs),
            wiped=self._wiped(unit.wiped),
            came_back=self._backs(unit.came_back),
        )

    def references(self, references: References) -> References:
        """Return the references with the repairs of the jobs before put right."""
        if not references.jobs_before:
            return references
        stands = {
            fact.entry: as_json(repair_stated(as_repair(fact)))
            for fact in facts(self.connection, REPAIR, before=self.before, corrections=self.now)
        }
        jobs_before = tuple(
            {
                **job,
                "repairs": [
                    _stands(repair, stands) for repair in job["repairs"] if _stood(repair, stands)
                ],
            }
            for job in references.jobs_before
        )
        return replace(references, jobs_before=jobs_before)

    def _repairs(self, stated: Sequence[RepairStated]) -> tuple[RepairStated, ...]:
        first, second = (
            {fact.entry: repair_stated(as_repair(fact)) for fact in repair}
            for repair in self.both(REPAIR)
        )
        return _put_right(stated, first, second)

    def _wiped(self, stated: WipedStated | None) -> WipedStated | None:
        first, second = (
            wiped_stated(
                last_wipe(self.connection, self.row, before=self.before, corrections=corrections)
            )
            for corrections in (self.then, self.now)
        )
        return second if stated == first else stated

    def _backs(self, stated: Sequence[BackStated]) -> tuple[BackStated, ...]:
        first, second = (
            dict(
                enumerate(
                    back_stated(back)
                    for back in returns(
                        self.connection, self.row, before=self.before, corrections=known
                    )
                )
            )
            for known in (self.then, self.now)
        )
        return _put_right(stated, first, second)


def _put_right(
    stated: Sequence[T], first: Mapping[int, T], second: Mapping[int, T]
) -> tuple[T, ...]:
    """Return what stands now if what was stated is what stood then; else what was stated."""
    return tuple(second.values() if list(stated) == list(first.values()) else stated)


def _stood(stated: Json, stands: Mapping[int, Json]) -> bool:
    """Tell whether a repair of a job before was not withdrawn; an older header cannot say which."""
    return not stated.get("at") or int(stated["at"]) in stands


def _stands(stated: Json, stands: Mapping[int, Json]) -> Json:
    """Return a repair of a job before as it stands now."""
    now = stands.get(int(stated.get("at") or 0), stated)
    return {key: now.get(key, old) if key != "at" else old for key, old in stated.items()}


def _said(fact: Fact | None) -> str:
    if fact is None:
        return ""
    values: Sequence[Any] = [fact[name] for name in _TELLING[fact.kind]]
    return ", ".join(str(value) for value in (*values, fact.when.day) if value)


_TELLING: Mapping[str, Sequence[str]] = {
    REPAIR: ("what", "function", "kind", "part", "batch"),
    WIPING: ("how", "verified"),
    BACK: ("complaint", "hazard"),
}


def _amended(kind: str, by: Correction, what: str, now: str) -> Amended:
    return Amended(kind, what, now, why=by.why, by=by.by, on=str(by.when.day), correction=by.entry)


def _opened(
    connection: Connection, row: UnitRow, soak: Fact, now: Corrections
) -> Sequence[OpenedSince]:
    """Return when the unit was opened since the soak began, or came back and that is withdrawn.

    What stands of a come-back is told by the job that it began.
    """
    reopenings = []
    for job in facts(connection, JOB, unit=row, withdrawn=True, corrections=now):
        by = now.withdrawal(job["begun_by"] or job.entry)
        if job.entry > soak.entry and (by or job["begun_by"] is None):
            during = _during(job.when, soak)
            withdrawn = by.why if by else ""
            reopenings.append(OpenedSince(str(job.when), job["why"], during, withdrawn))
    return reopenings


def _during(when: When, soak: Fact) -> bool:
    if when.at is None or soak["simulated"] or soak["ended_utc"] is None:
        return False
    began = minute_of(soak["began_utc"])
    return began < when.at < minute_of(soak["ended_utc"])
