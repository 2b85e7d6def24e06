"""What the ledger gives to a soak's header before anything is measured."""

from collections.abc import Sequence

from sqlalchemy import Connection

from soak.ledger import jobs
from soak.ledger.entries import CameBack, Repair, SoakLine, Wiped
from soak.ledger.sales import returns
from soak.ledger.sightings import not_tested_when_sold
from soak.ledger.soaks import soaks
from soak.ledger.units import UnitRow
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
        "repairs": [_repair(repair) for repair in jobs.repairs(connection, unit)],
        "wiped": _wiped(jobs.last_wipe(connection, unit)),
        "came_back": [_came_back(back) for back in came_back],
    }
    references = {
        "earlier_soaks": [_soak(line) for line in soaks(connection, job_id=job.job_id)],
        "came_back": _references_of(came_back, not_tested_when_sold(connection, unit)),
    }
    return job.job_id, described, references


def _repair(repair: Repair) -> Json:
    return {
        "id": repair.id,
        "what": repair.what,
        "function": repair.function,
        "kind": repair.kind,
        "on": repair.on.isoformat(),
        "job_id": repair.job_id,
        "at": repair.entry,
    }


def _wiped(wiped: Wiped | None) -> Json | None:
    if wiped is None:
        return None
    return {
        "how": wiped.how,
        "verified": wiped.verified,
        "by": wiped.by,
        "on": wiped.on.isoformat(),
    }


def _came_back(back: CameBack) -> Json:
    return {"on": back.on.isoformat(), "complaint": back.complaint, "hazard": back.hazard}


def _references_of(came_back: Sequence[CameBack], not_tested: Sequence[str]) -> list[Json]:
    """Describe each return; the last one with what the soak before its sale had not tested."""
    last = len(came_back) - 1
    return [
        {
            **_came_back(back),
            "answers": dict(back.answers),
            "settled": back.settled,
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
