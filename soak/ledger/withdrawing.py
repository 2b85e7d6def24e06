"""Demands that were wrong: withdrawn with a reason, never erased."""

from collections.abc import Sequence
from datetime import date

from sqlalchemy import Connection, insert, select

from soak.errors import LedgerError
from soak.judge.stricter import Withdrawn
from soak.ledger.schema import ENTRIES, JOBS, SOAKS, UNITS, WITHDRAWN
from soak.ledger.units import record, told


def withdraw(
    connection: Connection, soak_id: str, demand: str, *, because: str, by: str, day: date
) -> Withdrawn:
    """Record that a demand of a soak was wrong.

    Raises
    ------
    LedgerError
        If the soak is not in this ledger, the demand is withdrawn already, or `because` or `by`
        is empty.
    """
    unit = connection.execute(
        select(UNITS)
        .join(JOBS, JOBS.c.unit_id == UNITS.c.id)
        .join(SOAKS, SOAKS.c.job_id == JOBS.c.job_id)
        .where(SOAKS.c.soak_id == soak_id)
    ).one_or_none()
    if unit is None:
        raise LedgerError(f"this ledger has no soak {soak_id}; judge it first: soak judge")
    why, who = told(because, "why it was wrong"), told(by, "who withdraws it")
    again = connection.scalar(
        select(WITHDRAWN.c.because).where(
            WITHDRAWN.c.soak_id == soak_id, WITHDRAWN.c.demand == demand
        )
    )
    if again is not None:
        raise LedgerError(f"{demand} of soak {soak_id} is withdrawn already ({again})")
    entry = record(connection, unit, "demand withdrawn", day, who)
    connection.execute(
        insert(WITHDRAWN).values(entry=entry, soak_id=soak_id, demand=demand, because=why)
    )
    return Withdrawn(soak_id, demand, why, who, day.isoformat())


def withdrawn(connection: Connection, job_id: str) -> Sequence[Withdrawn]:
    """Return the demands that were withdrawn in a job, in the order they were."""
    found = connection.execute(
        select(WITHDRAWN, ENTRIES.c.by, ENTRIES.c.day)
        .join(ENTRIES, ENTRIES.c.number == WITHDRAWN.c.entry)
        .join(SOAKS, SOAKS.c.soak_id == WITHDRAWN.c.soak_id)
        .where(SOAKS.c.job_id == job_id)
        .order_by(WITHDRAWN.c.entry)
    )
    return [Withdrawn(row.soak_id, row.demand, row.because, row.by, row.day) for row in found]
