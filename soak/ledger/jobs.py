"""Jobs and repairs: what was done to a unit, and which evidence still counts."""

from collections.abc import Sequence
from datetime import date

from sqlalchemy import Connection, func, insert, select

from soak.errors import LedgerError
from soak.ledger.days import not_before
from soak.ledger.entries import Job, Repair, Wiped
from soak.ledger.schema import CAME_BACK, ENTRIES, JOBS, REPAIR_KINDS, REPAIRS, SOAKS, WIPED
from soak.ledger.units import UnitRow, bought_on, move, record, told
from soak.settings import nearest_name

INTAKE = "intake"
"""Name of the script that looks for a fault before the repair; it proves nothing afterwards."""


def begin(connection: Connection, unit: UnitRow, *, why: str, by: str, day: date) -> Job:
    """Begin a new job: evidence of earlier ones no longer counts."""
    entry = record(connection, unit, "job", day, by)
    last = connection.scalar(select(func.max(JOBS.c.number)).where(JOBS.c.unit_id == unit.id))
    number = (last or 0) + 1
    job_id = f"{unit.tag}-{number}"
    connection.execute(
        insert(JOBS).values(entry=entry, job_id=job_id, unit_id=unit.id, number=number, why=why)
    )
    return Job(job_id, number, day, why)


def opened(connection: Connection, unit: UnitRow, *, why: str, by: str, day: date) -> Job:
    """Record that the closed unit was opened again.

    Raises
    ------
    LedgerError
        If the unit is sold, or the day lies before it was bought.
    """
    here(unit, "opened")
    not_before(day, bought_on(unit), "the day it was opened", "the day it was bought")
    move(connection, unit, "on the bench")
    return begin(connection, unit, why=told(why, "why it was opened"), by=by, day=day)


def current(connection: Connection, unit: UnitRow) -> Job:
    """Return the job that evidence taken now belongs to."""
    row = connection.execute(
        select(JOBS, ENTRIES.c.day)
        .join(ENTRIES, JOBS.c.entry == ENTRIES.c.number)
        .where(JOBS.c.unit_id == unit.id)
        .order_by(JOBS.c.number.desc())
        .limit(1)
    ).one()
    return Job(row.job_id, row.number, date.fromisoformat(row.day), row.why)


def mend(
    connection: Connection,
    unit: UnitRow,
    *,
    what: str,
    function: str,
    kind: str,
    part: str,
    batch: str,
    by: str,
    day: date,
) -> Repair:
    """Record a repair in the current job.

    Raises
    ------
    LedgerError
        If the unit is sold, the kind is unknown, the day lies before the unit was bought, or the
        job was soaked already.
    """
    here(unit, "repaired")
    if kind not in REPAIR_KINDS:
        near = nearest_name(kind, REPAIR_KINDS)
        hint = f" (did you mean {near}?)" if near else f"; take one of {', '.join(REPAIR_KINDS)}"
        raise LedgerError(f"{kind!r} is not a kind of repair{hint}")
    not_before(day, bought_on(unit), "the day of the repair", "the day the unit was bought")
    job = _after_intake(connection, unit, current(connection, unit), by, day)
    _refuse_soaked(connection, unit, job)
    repair_id = f"R{len(repairs(connection, unit)) + 1}"
    values = {"what": told(what, "what was repaired"), "kind": kind}
    values |= {"function": told(function, "the function of the model sheet it gave back")}
    values |= {"part": part.strip(), "batch": batch.strip(), "job_id": job.job_id}
    entry = record(connection, unit, "repair", day, by)
    connection.execute(insert(REPAIRS).values(entry=entry, id=repair_id, **values))
    move(connection, unit, "on the bench")
    return Repair(id=repair_id, by=by.strip(), on=day, entry=entry, **values)


def repairs(connection: Connection, unit: UnitRow) -> Sequence[Repair]:
    """Return all repairs of a unit, in the order they were recorded."""
    found = connection.execute(
        select(REPAIRS, ENTRIES.c.day, ENTRIES.c.by)
        .join(ENTRIES, REPAIRS.c.entry == ENTRIES.c.number)
        .where(ENTRIES.c.unit_id == unit.id)
        .order_by(REPAIRS.c.entry)
    )
    return [
        Repair(
            id=row.id,
            job_id=row.job_id,
            what=row.what,
            function=row.function,
            kind=row.kind,
            part=row.part,
            batch=row.batch,
            by=row.by,
            on=date.fromisoformat(row.day),
            entry=row.entry,
        )
        for row in found
    ]


def wipe(
    connection: Connection, unit: UnitRow, *, how: str, verified: str, by: str, day: date
) -> Wiped:
    """Record that personal data was removed.

    Raises
    ------
    LedgerError
        If the unit is sold, or `how`, `verified` or `by` is empty.
    """
    here(unit, "wiped")
    not_before(day, bought_on(unit), "the day it was wiped", "the day it was bought")
    done = Wiped(
        told(how, "how it was wiped"),
        told(verified, "how the wiping was verified"),
        told(by, "who wiped it"),
        day,
    )
    entry = record(connection, unit, "wiped", day, done.by)
    connection.execute(insert(WIPED).values(entry=entry, how=done.how, verified=done.verified))
    return done


def last_wipe(connection: Connection, unit: UnitRow) -> Wiped | None:
    """Return the wiping that still holds: a unit that came back since may hold data again."""
    came_back = (
        select(func.coalesce(func.max(CAME_BACK.c.entry), 0))
        .join(ENTRIES, CAME_BACK.c.entry == ENTRIES.c.number)
        .where(ENTRIES.c.unit_id == unit.id)
        .scalar_subquery()
    )
    row = connection.execute(
        select(WIPED, ENTRIES.c.day, ENTRIES.c.by)
        .join(ENTRIES, WIPED.c.entry == ENTRIES.c.number)
        .where(ENTRIES.c.unit_id == unit.id, WIPED.c.entry > came_back)
        .order_by(WIPED.c.entry.desc())
        .limit(1)
    ).one_or_none()
    return Wiped(row.how, row.verified, row.by, date.fromisoformat(row.day)) if row else None


def here(unit: UnitRow, done: str) -> None:
    """Refuse what can only be done to a unit that is on the bench.

    Raises
    ------
    LedgerError
        If the unit is sold.
    """
    if unit.state == "sold":
        raise LedgerError(
            f"{unit.tag} is sold and cannot be {done}; if it came back, say so first: "
            f"soak unit back {unit.tag}"
        )


def _after_intake(connection: Connection, unit: UnitRow, job: Job, by: str, day: date) -> Job:
    """Begin a new job where the current one only looked for the fault: that was before repair."""
    scripts = set(connection.scalars(select(SOAKS.c.script).where(SOAKS.c.job_id == job.job_id)))
    if scripts != {INTAKE}:
        return job
    return begin(connection, unit, why="repaired after intake", by=by, day=day)


def _refuse_soaked(connection: Connection, unit: UnitRow, job: Job) -> None:
    soak_id = connection.scalar(
        select(SOAKS.c.soak_id).where(SOAKS.c.job_id == job.job_id).limit(1)
    )
    if soak_id is not None:
        raise LedgerError(
            f"{unit.tag} has been soaked since this repair began ({soak_id}), and a repair makes "
            f"that evidence stale; say first that it was opened: soak unit opened {unit.tag}"
        )
