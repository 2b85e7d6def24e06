"""What the ledger gives to a soak's header before anything is measured."""

from collections.abc import Sequence

from sqlalchemy import Connection

from soak.ledger import jobs
from soak.ledger.amending.corrected import UnitRow
from soak.ledger.entries import CameBack, Repair, SoakLine, Wiped
from soak.ledger.sales import returns
from soak.ledger.sightings import not_tested_when_sold
from soak.ledger.soaks import soaks
from soak.records import Json


def for_header(connection: Connection, unit: UnitRow) -> tuple[str, Json, Json]:
    """Return job id, `header.unit` and `header.references`.

    The repairs are those of all jobs: a repair made before the unit was last opened still has to
    be shown, and its old evidence no longer counts. The earlier soaks are those of this job.

    Raises
    ------
    LedgerError
        If the unit is sold.
    """
    jobs.here(unit, "soaked")
    job = jobs.current(connection, unit)
    came_back = returns(connection, unit)
    described = {
        "serial": unit.serial,
        "tag": unit.tag,
        "model": unit.model,
        "repairs": [repair_stated(repair) for repair in jobs.repairs(connection, unit)],
        "wiped": wiped_stated(jobs.last_wipe(connection, unit)),
        "came_back": [back_stated(back) for back in came_back],
    }
    references = {
        "earlier_soaks": [_soak(line) for line in soaks(connection, job_id=job.job_id)],
        "came_back": _references_of(came_back, not_tested_when_sold(connection, unit)),
    }
    return job.job_id, described, references


def repair_stated(repair: Repair) -> Json:
    """Return a repair as a header states it."""
    return {
        "id": repair.id,
        "what": repair.what,
        "function": repair.function,
        "kind": repair.kind,
        "on": repair.on.isoformat(),
        "job_id": repair.job_id,
        "at": repair.entry,
    }


def wiped_stated(wiped: Wiped | None) -> Json | None:
    """Return a wiping as a header states it."""
    if wiped is None:
        return None
    return {
        "how": wiped.how,
        "verified": wiped.verified,
        "by": wiped.by,
        "on": wiped.on.isoformat(),
    }


def back_stated(back: CameBack) -> Json:
    """Return a come-back as a header states it."""
    return {"on": back.on.isoformat(), "complaint": back.complaint, "hazard": back.hazard}


def _references_of(came_back: Sequence[CameBack], not_tested: Sequence[str]) -> list[Json]:
    """Describe each return; the last one with what the soak before its sale had not tested."""
    last = len(came_back) - 1
    return [
        {
            **back_stated(back),
            "answers": dict(back.answers),
            "settled": back.settled,
            "done": back.done,
            "not_tested": list(not_tested) if number == last else [],
        }
        for number, back in enumerate(came_back)
    ]


def _soak(line: SoakLine) -> Json:
    return {
        "soak_id": line.soak_id,
        "script": line.script,
        "grade": line.grade,
        "on": line.on.isoformat(),
    }
