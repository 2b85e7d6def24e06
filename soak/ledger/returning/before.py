"""The jobs before of a unit, whatever tag it was soaked under."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection

from soak.ledger import jobs
from soak.ledger.amending.corrected import BACK, JOB, SOLD, UnitRow, facts, unit_rows
from soak.ledger.entries import Repair, SoakLine
from soak.ledger.returning.likeness import one_unit
from soak.ledger.soaks import soaks


@dataclass(frozen=True, slots=True)
class EarlierJob:
    """One job before, with what was done and soaked in it.

    Attributes
    ----------
    entry : int
        Its place in the order in which the ledger took entries in.
    came_back : bool
        The unit was sold after it and came back.
    """

    job_id: str
    entry: int
    tag: str
    begun: date
    why: str
    repairs: Sequence[Repair]
    soaks: Sequence[SoakLine]
    came_back: bool


@dataclass(frozen=True, slots=True)
class Earlier:
    """What the ledger knows of a unit before its current job.

    Attributes
    ----------
    tags : sequence of str
        Tags under which the unit stands in the ledger: its own first, then those with its serial.
    jobs : sequence of EarlierJob
        In order of time.
    entry, since_utc : int and str
        Place of the current job in the order of entries, and when it was recorded.
    """

    tags: Sequence[str]
    jobs: Sequence[EarlierJob]
    entry: int
    since_utc: str


def earlier(connection: Connection, unit: UnitRow) -> Earlier:
    """Return all jobs of the unit but its current one; serials that read alike are one unit."""
    others = (row for row in unit_rows(connection) if row.id != unit.id)
    units = [unit, *(row for row in others if one_unit(row.serial, unit.serial))]
    current = jobs.current(connection, unit).job_id
    came_back = _sold_and_back(connection)
    begun = [(job, row) for row in units for job in facts(connection, JOB, unit=row)]
    own = next(job for job, _ in begun if job["job_id"] == current)
    repairs = [repair for row in units for repair in jobs.repairs(connection, row)]
    earlier = [
        EarlierJob(
            job["job_id"],
            job.entry,
            row.tag,
            begun=job.when.day,
            why=job["why"],
            repairs=[repair for repair in repairs if repair.job_id == job["job_id"]],
            soaks=soaks(connection, job_id=job["job_id"]),
            came_back=job["job_id"] in came_back,
        )
        for job, row in sorted(begun, key=lambda pair: pair[0].entry)
        if job["job_id"] != current
    ]
    return Earlier([row.tag for row in units], earlier, own.entry, own.when.recorded_utc)


def _sold_and_back(connection: Connection) -> frozenset[str]:
    """Return the jobs after which a unit was sold and came back."""
    back = {fact["sale"] for fact in facts(connection, BACK)}
    return frozenset(sale["job_id"] for sale in facts(connection, SOLD) if sale.entry in back)
