"""What stands in the ledger: entries as later ones have corrected them, without the withdrawn.

Nothing is ever changed or erased in the tables of entries. An entry `withdrawn` names one that no
longer counts, an entry `corrected` one of which something was typed wrong; both may themselves be
withdrawn, which restores what was there. Whoever reads entries reads them here, so that nobody can
forget a correction (`tests/house/test_one_reader.py`).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from typing import Any

from sqlalchemy import Connection, Row, Table, func, select

from soak.ledger import schema
from soak.ledger.days import When
from soak.ledger.schema import (
    CAME_BACK,
    CORRECTIONS,
    ENTRIES,
    JOBS,
    PHOTOGRAPHS,
    REPAIRS,
    SALES,
    SETTLED,
    SOAKS,
    UNITS,
    WIPED,
)
from soak.words import Message, msg

JOB = "job"
REPAIR = "repair"
SOLD = "sold"
BACK = "came back"
HAZARD_SETTLED = "hazard settled"
WIPING = "wiped"
PHOTOGRAPH = "photograph"
SOAK = "soak"
DEMAND_WITHDRAWN = "demand withdrawn"
WITHDRAWN = "withdrawn"
CORRECTED = "corrected"
"""Kinds of entries."""

_TABLES: Mapping[str, Table] = {
    JOB: JOBS,
    REPAIR: REPAIRS,
    SOLD: SALES,
    BACK: CAME_BACK,
    HAZARD_SETTLED: SETTLED,
    WIPING: WIPED,
    PHOTOGRAPH: PHOTOGRAPHS,
    DEMAND_WITHDRAWN: schema.WITHDRAWN,
    SOAK: SOAKS,
}


@dataclass(frozen=True, slots=True)
class Correction:
    """An entry that withdraws or corrects another.

    Attributes
    ----------
    entry, of : int
        Its own number, and that of the entry it names.
    new : mapping or None
        What it puts in place of the old; None if it withdraws.
    """

    entry: int
    of: int
    unit_id: int
    when: When
    by: str
    why: str
    new: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True)
class Fact:
    """One entry as it stands.

    Attributes
    ----------
    said : mapping
        The columns of its kind's table, corrected.
    """

    entry: int
    unit_id: int
    kind: str
    when: When
    by: str
    said: Mapping[str, Any]

    def __getitem__(self, name: str) -> Any:
        return self.said[name]


@dataclass(frozen=True, slots=True)
class UnitRow:
    """One unit as it stands.

    Attributes
    ----------
    first_entry : int
        The entry at which it came into the ledger; it names its serial and the day it was bought.
    mistyped : tuple of str
        Serials that were recorded for it before they were corrected.
    """

    id: int
    tag: str
    serial: str
    model: str
    bought: str | None
    state: str
    first_entry: int
    mistyped: tuple[str, ...] = ()


class Corrections:
    """All corrections, or those recorded before an entry, and what each of them comes to."""

    def __init__(self, found: Sequence[Correction]) -> None:
        self.all = found
        self._of: dict[int, list[Correction]] = {}
        for correction in found:
            self._of.setdefault(correction.of, []).append(correction)

    @classmethod
    def read(cls, connection: Connection, *, before: int | None = None) -> "Corrections":
        """Read them, in order; `before` an entry, only those recorded earlier."""
        query = select(CORRECTIONS, *_OF_ENTRY).join(
            ENTRIES, CORRECTIONS.c.entry == ENTRIES.c.number
        )
        if before is not None:
            query = query.where(CORRECTIONS.c.entry < before)
        rows = connection.execute(query.order_by(CORRECTIONS.c.entry)).all()
        return cls(
            [
                Correction(
                    row.entry,
                    row.of,
                    row.unit_id,
                    when=_when(row),
                    by=row.by,
                    why=row.why,
                    new=row.new,
                )
                for row in rows
            ]
        )

    def of(self, entry: int) -> Sequence[Correction]:
        """Return all corrections that name an entry, in order, whether they stand or not."""
        return self._of.get(entry, ())

    def withdrawal(self, entry: int) -> Correction | None:
        """Return what withdraws an entry; None if it stands."""
        return next(
            (
                correction
                for correction in self.of(entry)
                if correction.new is None and self.stands(correction)
            ),
            None,
        )

    def last(self, entry: int) -> Correction:
        """Return the newest correction of an entry, or of one of its corrections."""
        own = self.of(entry)
        return max(
            [*own, *(self.last(entry.entry) for entry in own if self.of(entry.entry))],
            key=lambda correction: correction.entry,
        )

    def stands(self, correction: Correction) -> bool:
        """Tell whether a correction was not itself withdrawn."""
        return self.withdrawal(correction.entry) is None

    def new(self, entry: int) -> dict[str, Any]:
        """Return what stands in place of an entry's own words: the latest of each."""
        values: dict[str, Any] = {}
        for correction in self.of(entry):
            if correction.new is not None and self.stands(correction):
                values |= {**correction.new, **self.new(correction.entry)}
        return values


_OF_ENTRY = (ENTRIES.c.unit_id, ENTRIES.c.day, ENTRIES.c.at, ENTRIES.c.by, ENTRIES.c.recorded_utc)


def facts(
    connection: Connection,
    kind: str,
    *,
    unit: UnitRow | None = None,
    before: int | None = None,
    corrections: Corrections | None = None,
    withdrawn: bool = False,
) -> Sequence[Fact]:
    """Return the entries of one kind that stand, in the order they were recorded.

    Parameters
    ----------
    before : int or None
        Only entries recorded before this one.
    corrections : Corrections or None
        By which corrections; all, if not given.
    withdrawn : bool
        Withdrawn ones too.
    """
    table = _TABLES[kind]
    query = select(table, *_OF_ENTRY).join(ENTRIES, table.c.entry == ENTRIES.c.number)
    if unit is not None:
        query = query.where(ENTRIES.c.unit_id == unit.id)
    if before is not None:
        query = query.where(table.c.entry < before)
    known = corrections or Corrections.read(connection)
    rows = connection.execute(query.order_by(table.c.entry)).all()
    stated = [_fact(row, kind, table, known) for row in rows]
    if kind == JOB:
        return _jobs(connection, stated, known, withdrawn=withdrawn)
    return [fact for fact in stated if withdrawn or known.withdrawal(fact.entry) is None]


def unit_rows(connection: Connection) -> Sequence[UnitRow]:
    """Return all units as they stand, in the order they were added."""
    known = Corrections.read(connection)
    first = func.min(ENTRIES.c.number).label("first_entry")
    rows = connection.execute(
        select(UNITS, first)
        .join(ENTRIES, ENTRIES.c.unit_id == UNITS.c.id)
        .group_by(UNITS.c.id)
        .order_by(UNITS.c.id)
    ).all()
    return [_unit(row, known) for row in rows]


def _unit(row: Row[Any], known: Corrections) -> UnitRow:
    new = known.new(row.first_entry)
    serial = str(new.get("serial", row.serial))
    ever = [str(row.serial)]
    ever += [
        str(correction.new["serial"])
        for correction in known.all
        if correction.unit_id == row.id
        and correction.new is not None
        and "serial" in correction.new
    ]
    return UnitRow(
        id=row.id,
        tag=row.tag,
        serial=serial,
        model=row.model,
        bought=new.get("bought", row.bought),
        state=row.state,
        first_entry=row.first_entry,
        mistyped=tuple(dict.fromkeys(earlier for earlier in ever if earlier and earlier != serial)),
    )


def _fact(row: Row[Any], kind: str, table: Table, known: Corrections) -> Fact:
    new = known.new(row.entry)
    own = {column.name: row._mapping[column.name] for column in table.c if column.name != "entry"}
    when = _when(row)
    if "day" in new:
        when = _moment(str(new["day"]), new.get("at"), row.recorded_utc)
    said = {**own, **{name: value for name, value in new.items() if name in own}}
    return Fact(row.entry, row.unit_id, kind, when=when, by=row.by, said=said)


def _when(row: Row[Any]) -> When:
    return _moment(row.day, row.at, row.recorded_utc)


def _moment(day: str, at: str | None, recorded_utc: str) -> When:
    return When(date.fromisoformat(day), datetime.fromisoformat(at) if at else None, recorded_utc)


def back_for(complaint: str) -> Message:
    """Say why a job began that a come-back began."""
    return msg("came back: {complaint}", complaint=complaint)


def _jobs(
    connection: Connection, jobs: Sequence[Fact], known: Corrections, *, withdrawn: bool
) -> Sequence[Fact]:
    """Return the jobs whose beginning stands, as what they began with says now."""
    firsts = {
        fact.entry: fact
        for kind in (BACK, REPAIR)
        for fact in facts(connection, kind, corrections=known)
    }
    rows = []
    for job in jobs:
        first = firsts.get(job["begun_by"])
        if first is not None:
            why = back_for(first["complaint"]) if first.kind == BACK else job["why"]
            rows.append(replace(job, when=first.when, said={**job.said, "why": why}))
        elif withdrawn or _begins(connection, job, known):
            rows.append(job)
    return rows


def _begins(connection: Connection, job: Fact, known: Corrections) -> bool:
    """Tell whether a job stands: its beginning does, or what else was done in it keeps it."""
    if known.withdrawal(job["begun_by"] or job.entry) is None:
        return True
    for kind in (REPAIR, SOLD, SOAK) if job["begun_by"] is not None else ():
        done = facts(connection, kind, corrections=known)
        if any(fact["job_id"] == job["job_id"] for fact in done):
            return True
    return False
