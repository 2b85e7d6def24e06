"""What a soak's header stated of its unit, as the ledger has corrected it since.

The header is sealed and stays. What was recorded before that soak, and withdrawn or corrected
since, is put right here for the grade and for pages made now; nothing recorded after it comes in.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

from soak.ledger.corrected import (
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
from soak.ledger.for_header import back_stated, repair_stated, wiped_stated
from soak.ledger.jobs import as_repair, last_wipe
from soak.ledger.sales import returns
from soak.records import Json


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
    unit : Json
        As `header.unit`, corrected.
    """

    unit: Json
    amended: Sequence[Amended] = ()
    opened: Sequence[OpenedSince] = ()


def restated(
    connection: Connection, soak_id: str, unit: Json, corrections: Corrections | None = None
) -> Restated:
    """Return what a soak's `header.unit` says as corrected since, and by what.

    By some `corrections`, or by all. A soak that the ledger does not have stays as it is stated.
    """
    soak = next((one for one in facts(connection, SOAK) if one["soak_id"] == soak_id), None)
    if soak is None:
        return Restated(unit)
    row = next(one for one in unit_rows(connection) if one.id == soak.unit_id)
    then = Corrections.read(connection, before=soak.entry)
    now = corrections or Corrections.read(connection)
    opened = _opened(connection, row, soak, now)
    if len(then.all) == len(now.all):
        return Restated(unit, (), opened)
    told = _Told(connection, row, soak.entry, then, now)
    amended = [*told.serial(unit), *(one for kind in _TELLING for one in told.of(kind))]
    return Restated(told.unit(unit), tuple(amended), opened)


@dataclass(frozen=True, slots=True)
class _Told:
    """Two tellings of what was recorded before a soak: as it stood then, and as it stands now."""

    connection: Connection
    row: UnitRow
    before: int
    then: Corrections
    now: Corrections

    def both(self, kind: str) -> tuple[Sequence[Fact], Sequence[Fact]]:
        """Return the entries of a kind as they stood then, and as they stand now."""
        first, second = (
            facts(self.connection, kind, unit=self.row, before=self.before, corrections=one)
            for one in (self.then, self.now)
        )
        return first, second

    def of(self, kind: str) -> list[Amended]:
        """Return what differs of a kind of entry."""
        first, second = ({one.entry: one for one in found} for found in self.both(kind))
        return [
            _amended(kind, self.now.last(entry), _said(first.get(entry)), _said(second.get(entry)))
            for entry in sorted({*first, *second})
            if _said(first.get(entry)) != _said(second.get(entry))
        ]

    def serial(self, unit: Json) -> list[Amended]:
        """Return that the serial was corrected."""
        stated = str(unit.get("serial", self.row.serial))
        if stated == self.row.serial:
            return []
        return [_amended("serial", self.now.last(self.row.first_entry), stated, self.row.serial)]

    def unit(self, unit: Json) -> Json:
        """Return the statement put right."""
        return {
            **unit,
            "serial": self.row.serial,
            "repairs": self._repairs(unit.get("repairs") or []),
            "wiped": self._wiped(unit.get("wiped")),
            "came_back": self._backs(unit.get("came_back") or []),
        }

    def _repairs(self, stated: Sequence[Json]) -> list[Json]:
        first, second = (
            {one.entry: repair_stated(as_repair(one)) for one in found}
            for found in self.both(REPAIR)
        )
        return _put_right(stated, first, second)

    def _wiped(self, stated: Json | None) -> Json | None:
        first, second = (
            wiped_stated(last_wipe(self.connection, self.row, before=self.before, corrections=one))
            for one in (self.then, self.now)
        )
        return second if stated == first else stated

    def _backs(self, stated: Sequence[Json]) -> list[Json]:
        first, second = (
            dict(
                enumerate(
                    back_stated(one)
                    for one in returns(
                        self.connection, self.row, before=self.before, corrections=known
                    )
                )
            )
            for known in (self.then, self.now)
        )
        return _put_right(stated, first, second)


def _put_right(
    stated: Sequence[Json], first: Mapping[int, Json], second: Mapping[int, Json]
) -> list[Json]:
    """Return what stands now if what was stated is what stood then; else what was stated."""
    return list(second.values()) if list(stated) == list(first.values()) else list(stated)


def _said(fact: Fact | None) -> str:
    if fact is None:
        return ""
    told: Sequence[Any] = [fact[name] for name in _TELLING[fact.kind]]
    return ", ".join(str(one) for one in (*told, fact.when.day) if one)


_TELLING: Mapping[str, Sequence[str]] = {
    REPAIR: ("what", "function", "kind", "part", "batch"),
    WIPING: ("how", "verified"),
    BACK: ("complaint", "hazard"),
}


def _amended(kind: str, by: Correction, what: str, now: str) -> Amended:
    return Amended(kind, what, now, by.why, by.by, str(by.when.day), by.entry)


def _opened(
    connection: Connection, row: UnitRow, soak: Fact, now: Corrections
) -> Sequence[OpenedSince]:
    """Return when the unit was opened since the soak began, by whatever began a job."""
    ever = facts(connection, JOB, unit=row, withdrawn=True, corrections=now)
    return [
        OpenedSince(
            on=str(job.when),
            why=job["why"],
            during=_during(job.when, soak),
            withdrawn=by.why if (by := now.withdrawal(job.entry)) else "",
        )
        for job in ever
        if job.entry > soak.entry and job["begun_by"] is None
    ]


def _during(when: When, soak: Fact) -> bool:
    if when.at is None or soak["simulated"] or soak["ended_utc"] is None:
        return False
    began = minute_of(soak["began_utc"])
    return began < when.at < minute_of(soak["ended_utc"])
