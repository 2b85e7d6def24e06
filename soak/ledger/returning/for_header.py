"""What the ledger gives to a soak's header before anything is measured."""

from collections.abc import Sequence

from sqlalchemy import Connection

from soak.frozen.references import BackSettled, EarlierSoak, References
from soak.frozen.unit import BackStated, RepairStated, UnitStated, WipedStated
from soak.ledger import jobs
from soak.ledger.amending.corrected import UnitRow
from soak.ledger.entries import CameBack, Repair, SoakLine, Wiped
from soak.ledger.sales import returns
from soak.ledger.sightings import not_tested_when_sold
from soak.ledger.soaks import soaks
from soak.words import msg


def for_header(connection: Connection, unit: UnitRow) -> tuple[str, UnitStated, References]:
    """Return job id, `header.unit` and `header.references`.

    The repairs are those of all jobs: a repair made before the unit was last opened still has to
    be shown, and its old evidence no longer counts. The earlier soaks are those of this job.

    Raises
    ------
    LedgerError
        If the unit is sold.
    """
    jobs.here(unit, msg("soaked"))
    job = jobs.current(connection, unit)
    came_back = returns(connection, unit)
    described = UnitStated(
        serial=unit.serial,
        tag=unit.tag,
        model=unit.model,
        repairs=tuple(repair_stated(repair) for repair in jobs.repairs(connection, unit)),
        wiped=wiped_stated(jobs.last_wipe(connection, unit)),
        came_back=tuple(back_stated(back) for back in came_back),
    )
    references = References(
        earlier_soaks=tuple(_soak(line) for line in soaks(connection, job_id=job.job_id)),
        came_back=_references_of(came_back, not_tested_when_sold(connection, unit)),
    )
    return job.job_id, described, references


def repair_stated(repair: Repair) -> RepairStated:
    """Return a repair as a header states it."""
    return RepairStated(
        id=repair.id,
        what=repair.what,
        function=repair.function,
        kind=repair.kind,
        on=repair.on.isoformat(),
        job_id=repair.job_id,
        at=float(repair.entry),
    )


def wiped_stated(wiped: Wiped | None) -> WipedStated | None:
    """Return a wiping as a header states it."""
    if wiped is None:
        return None
    return WipedStated(how=wiped.how, verified=wiped.verified, by=wiped.by, on=wiped.on.isoformat())


def back_stated(back: CameBack) -> BackStated:
    """Return a come-back as a header states it."""
    return BackStated(on=back.on.isoformat(), complaint=back.complaint, hazard=back.hazard)


def _references_of(
    came_back: Sequence[CameBack], not_tested: Sequence[str]
) -> tuple[BackSettled, ...]:
    """Describe each return; the last one with what the soak before its sale had not tested."""
    last = len(came_back) - 1
    return tuple(
        BackSettled(
            on=back.on.isoformat(),
            complaint=back.complaint,
            hazard=back.hazard,
            answers=dict(back.answers),
            settled=back.settled,
            done=back.done,
            not_tested=tuple(not_tested) if number == last else (),
        )
        for number, back in enumerate(came_back)
    )


def _soak(line: SoakLine) -> EarlierSoak:
    return EarlierSoak(
        soak_id=line.soak_id, script=line.script, grade=line.grade, on=line.on.isoformat()
    )
