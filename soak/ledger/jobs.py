"""Jobs and repairs: what was done to a unit, and which evidence still counts."""

from collections.abc import Sequence

from sqlalchemy import Connection, insert, update

from soak.errors import LedgerError
from soak.ledger.amending.corrected import (
    BACK,
    JOB,
    REPAIR,
    SOAK,
    WIPING,
    Corrections,
    Fact,
    UnitRow,
    facts,
)
from soak.ledger.days import When, not_before
from soak.ledger.entries import Job, Repair, Wiped
from soak.ledger.schema import JOBS, REPAIR_KINDS, REPAIRS, WIPED
from soak.ledger.units import bought_on, move, record, told
from soak.settings import nearest_name
from soak.words import Message, joined, msg

INTAKE = "intake"
"""Name of the script that looks for a fault before the repair; it proves nothing afterwards."""
AFTER_INTAKE = "repaired after intake"
"""Why a job began that a repair began."""


def begin_first(connection: Connection, unit_id: int, tag: str, by: str, when: When) -> None:
    """Begin the job with which a unit comes into the ledger."""
    entry = record(connection, unit_id, JOB, when=when, by=by)
    values = {"job_id": f"{tag}-1", "unit_id": unit_id, "number": 1, "why": "bought"}
    connection.execute(insert(JOBS).values(entry=entry, **values))


def begin(
    connection: Connection,
    unit: UnitRow,
    *,
    why: str,
    by: str,
    when: When,
    begun_by: int | None = None,
) -> Job:
    """Begin a new job: evidence of earlier ones no longer counts."""
    ever = facts(connection, JOB, unit=unit, withdrawn=True)
    number = max(int(job["number"]) for job in ever) + 1
    job_id = f"{unit.tag}-{number}"
    entry = record(connection, unit.id, JOB, when=when, by=by)
    values = {"job_id": job_id, "unit_id": unit.id, "number": number, "why": why}
    connection.execute(insert(JOBS).values(entry=entry, begun_by=begun_by, **values))
    return Job(job_id, number, when.day, why=why, when=when)


def opened(connection: Connection, unit: UnitRow, *, why: str, by: str, when: When) -> Job:
    """Record that the closed unit was opened again.

    Raises
    ------
    LedgerError
        If the unit is sold, or the day lies before it was bought.
    """
    here(unit, msg("opened"))
    not_before(when, bought_on(unit), msg("the day it was opened"), msg("the day it was bought"))
    move(connection, unit, "on the bench")
    return begin(connection, unit, why=told(why, msg("why it was opened")), by=by, when=when)


def current(connection: Connection, unit: UnitRow) -> Job:
    """Return the job that evidence taken now belongs to."""
    job = facts(connection, JOB, unit=unit)[-1]
    return Job(job["job_id"], job["number"], job.when.day, why=job["why"], when=job.when)


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
    when: When,
) -> Repair:
    """Record a repair in the current job.

    Raises
    ------
    LedgerError
        If the unit is sold, the kind is unknown, the day lies before the unit was bought or its
        job began, or the job was soaked already.
    """
    here(unit, msg("repaired"))
    check_kind(kind)
    not_before(
        when, bought_on(unit), msg("the day of the repair"), msg("the day the unit was bought")
    )
    before = current(connection, unit)
    if before.why != AFTER_INTAKE:  # that one began with its first repair, and only on record
        not_before(when, before.when, msg("the day of the repair"), msg("the day its job began"))
    job = _after_intake(connection, unit, before, by=by, when=when)
    _refuse_soaked(connection, unit, job)
    repair_id = f"R{len(facts(connection, REPAIR, unit=unit, withdrawn=True)) + 1}"
    values = {"what": told(what, msg("what was repaired")), "kind": kind}
    values |= {"function": told(function, msg("the function of the model sheet it gave back"))}
    values |= {"part": part.strip(), "batch": batch.strip(), "job_id": job.job_id}
    entry = record(connection, unit.id, REPAIR, when=when, by=by)
    connection.execute(insert(REPAIRS).values(entry=entry, id=repair_id, **values))
    if job != before:
        begun = update(JOBS).where(JOBS.c.job_id == job.job_id)
        connection.execute(begun.values(begun_by=entry))
    move(connection, unit, "on the bench")
    return Repair(
        id=repair_id,
        by=by.strip(),
        on=when.day,
        entry=entry,
        what=values["what"],
        kind=kind,
        function=values["function"],
        part=values["part"],
        batch=values["batch"],
        job_id=job.job_id,
    )


def check_kind(kind: str) -> None:
    """Refuse what is no kind of repair.

    Raises
    ------
    LedgerError
        If it is none, with the nearest.
    """
    if kind not in REPAIR_KINDS:
        near = nearest_name(kind, REPAIR_KINDS)
        hint = (
            msg(" (did you mean {near}?)", near=near)
            if near
            else msg("; take one of {repair_kinds}", repair_kinds=joined(", ", REPAIR_KINDS))
        )
        raise LedgerError(msg("{kind} is not a kind of repair{hint}", kind=repr(kind), hint=hint))


def repairs(connection: Connection, unit: UnitRow) -> Sequence[Repair]:
    """Return all repairs of a unit, in the order they were recorded."""
    return [as_repair(fact) for fact in facts(connection, REPAIR, unit=unit)]


def as_repair(fact: Fact) -> Repair:
    """Turn an entry into what the ledger gives back."""
    names = ("id", "job_id", "what", "function", "kind", "part", "batch")
    said = {name: fact[name] for name in names}
    return Repair(**said, by=fact.by, on=fact.when.day, entry=fact.entry)


def wipe(
    connection: Connection, unit: UnitRow, *, how: str, verified: str, by: str, when: When
) -> Wiped:
    """Record that personal data was removed.

    Raises
    ------
    LedgerError
        If the unit is sold, `how`, `verified` or `by` is empty, or it was in other hands since.
    """
    here(unit, msg("wiped"))
    not_before(when, bought_on(unit), msg("the day it was wiped"), msg("the day it was bought"))
    returns = facts(connection, BACK, unit=unit)
    since = returns[-1].when if returns else None
    not_before(when, since, msg("the day it was wiped"), msg("the day it came back"))
    done = Wiped(
        told(how, msg("how it was wiped")),
        told(verified, msg("how the wiping was verified")),
        told(by, msg("who wiped it")),
        when.day,
    )
    entry = record(connection, unit.id, WIPING, when=when, by=done.by)
    connection.execute(insert(WIPED).values(entry=entry, how=done.how, verified=done.verified))
    return done


def last_wipe(
    connection: Connection,
    unit: UnitRow,
    *,
    before: int | None = None,
    corrections: Corrections | None = None,
) -> Wiped | None:
    """Return the wiping that still holds: a unit that came back since may hold data again.

    `before` an entry and by some `corrections` it is what was held to be so then.
    """
    back, wiped = (
        facts(connection, kind, unit=unit, before=before, corrections=corrections)
        for kind in (BACK, WIPING)
    )
    done = [fact for fact in wiped if not back or fact.entry > back[-1].entry]
    if not done:
        return None
    return Wiped(done[-1]["how"], done[-1]["verified"], done[-1].by, done[-1].when.day)


def here(unit: UnitRow, done: Message) -> None:
    """Refuse what can only be done to a unit that is on the bench.

    Raises
    ------
    LedgerError
        If the unit is sold.
    """
    if unit.state == "sold":
        raise LedgerError(
            msg(
                "{tag} is sold and cannot be {done}; if it came back, say so first: soak unit "
                "back {tag}",
                tag=unit.tag,
                done=done,
            )
        )


def _after_intake(connection: Connection, unit: UnitRow, job: Job, by: str, when: When) -> Job:
    """Begin a new job where the current one only looked for the fault: that was before repair."""
    if {fact["script"] for fact in _soaks_of(connection, unit, job)} != {INTAKE}:
        return job
    return begin(connection, unit, why=AFTER_INTAKE, by=by, when=when)


def _soaks_of(connection: Connection, unit: UnitRow, job: Job) -> Sequence[Fact]:
    soaked = facts(connection, SOAK, unit=unit)
    return [fact for fact in soaked if fact["job_id"] == job.job_id]


def _refuse_soaked(connection: Connection, unit: UnitRow, job: Job) -> None:
    for soak in _soaks_of(connection, unit, job)[:1]:
        raise LedgerError(
            msg(
                "{tag} has been soaked since this repair began ({soak}), and a repair makes "
                "that evidence stale; say first that it was opened: soak unit opened {tag}",
                tag=unit.tag,
                soak=soak["soak_id"],
            )
        )
