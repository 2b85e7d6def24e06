"""Demands that were wrong: withdrawn with a reason, never erased."""

from collections.abc import Sequence

from sqlalchemy import Connection, insert

from soak.errors import LedgerError
from soak.judge.stricter import Withdrawn
from soak.ledger.amending.corrected import DEMAND_WITHDRAWN, SOAK, Fact, facts
from soak.ledger.days import When
from soak.ledger.schema import WITHDRAWN
from soak.ledger.units import record, told
from soak.words import msg


def withdraw(
    connection: Connection, soak_id: str, demand: str, *, because: str, by: str, when: When
) -> Withdrawn:
    """Record that a demand of a soak was wrong.

    Raises
    ------
    LedgerError
        If the soak is not in this ledger, the demand is withdrawn already, or `because` or `by`
        is empty.
    """
    soak = next((fact for fact in facts(connection, SOAK) if fact["soak_id"] == soak_id), None)
    if soak is None:
        raise LedgerError(
            msg("this ledger has no soak {soak}; judge it first: soak judge", soak=soak_id)
        )
    why = told(because, msg("why it was wrong"))
    who = told(by, msg("who withdraws it"))
    for again in facts(connection, DEMAND_WITHDRAWN):
        if (again["soak_id"], again["demand"]) == (soak_id, demand):
            raise LedgerError(
                msg(
                    "{demand} of soak {soak} is withdrawn already ({because})",
                    demand=demand,
                    soak=soak_id,
                    because=again["because"],
                )
            )
    entry = record(connection, soak.unit_id, DEMAND_WITHDRAWN, when=when, by=who)
    connection.execute(
        insert(WITHDRAWN).values(entry=entry, soak_id=soak_id, demand=demand, because=why)
    )
    return Withdrawn(soak_id, demand, why, by=who, on=when.day.isoformat())


def withdrawn(connection: Connection, job_id: str) -> Sequence[Withdrawn]:
    """Return the demands that were withdrawn in a job, in the order they were."""
    soaked = {fact["soak_id"] for fact in facts(connection, SOAK) if fact["job_id"] == job_id}
    rows = facts(connection, DEMAND_WITHDRAWN)
    return [_withdrawn(fact) for fact in rows if fact["soak_id"] in soaked]


def _withdrawn(one: Fact) -> Withdrawn:
    return Withdrawn(one["soak_id"], one["demand"], one["because"], by=one.by, on=str(one.when.day))
