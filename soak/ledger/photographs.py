"""Photographs of a unit, each tied to the seal of the soak before it."""

from collections.abc import Sequence

from sqlalchemy import Connection, insert

from soak.ledger import jobs
from soak.ledger.amending.corrected import PHOTOGRAPH, Corrections, UnitRow, facts
from soak.ledger.days import When
from soak.ledger.entries import Photograph
from soak.ledger.schema import PHOTOGRAPHS
from soak.ledger.soaks import soaks
from soak.ledger.units import record, told
from soak.words import msg


def keep(
    connection: Connection,
    unit: UnitRow,
    what: str,
    file: str,
    sha256: str,
    by: str,
    when: When,
) -> str:
    """Put a photograph on the unit's card; return the seal of the newest soak before it."""
    job = jobs.current(connection, unit)
    before = [line for line in soaks(connection, job_id=job.job_id) if not line.ended_after(when)]
    seals = [line.seal for line in before if line.seal]
    seal = seals[-1] if seals else ""
    entry = record(connection, unit.id, PHOTOGRAPH, when=when, by=by)
    words = told(what, msg("what the photograph shows"))
    connection.execute(
        insert(PHOTOGRAPHS).values(entry=entry, what=words, file=file, sha256=sha256, seal=seal)
    )
    return seal


def of_unit(connection: Connection, unit: UnitRow) -> Sequence[Photograph]:
    """Return a unit's photographs in the order they were recorded, withdrawn ones too."""
    corrections = Corrections.read(connection)
    return [
        Photograph(
            entry=fact.entry,
            what=fact["what"],
            file=fact["file"],
            sha256=fact["sha256"],
            seal=fact["seal"],
            on=fact.when.day,
            by=fact.by,
            withdrawn=corrections.withdrawal(fact.entry) is not None,
        )
        for fact in facts(
            connection, PHOTOGRAPH, unit=unit, corrections=corrections, withdrawn=True
        )
    ]
