"""Photographs of a unit, each tied to the seal of the soak before it."""

from datetime import date

from sqlalchemy import Connection, insert

from soak.ledger import jobs
from soak.ledger.schema import PHOTOGRAPHS
from soak.ledger.soaks import soaks
from soak.ledger.units import UnitRow, record, told


def keep(
    connection: Connection,
    unit: UnitRow,
    what: str,
    file: str,
    sha256: str,
    by: str,
    day: date,
) -> str:
    """Put a photograph on the unit's card; return the seal of the job's newest soak, or nothing."""
    job = jobs.current(connection, unit)
    seals = [line.seal for line in soaks(connection, job_id=job.job_id) if line.seal]
    seal = seals[-1] if seals else ""
    entry = record(connection, unit, "photograph", day, by)
    words = told(what, "what the photograph shows")
    connection.execute(
        insert(PHOTOGRAPHS).values(entry=entry, what=words, file=file, sha256=sha256, seal=seal)
    )
    return seal
