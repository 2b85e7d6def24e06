"""Sales and what came back of them."""

import re
from collections.abc import Sequence
from decimal import Decimal

from sqlalchemy import Connection, insert

from soak.errors import LedgerError, told_of
from soak.ledger import jobs
from soak.ledger.amending.corrected import (
    BACK,
    HAZARD_SETTLED,
    SOLD,
    Corrections,
    Fact,
    UnitRow,
    back_for,
    facts,
)
from soak.ledger.days import When, not_before
from soak.ledger.entries import CameBack, NeedsAnyway, Sale
from soak.ledger.returning.hazards import open_hazards, shout
from soak.ledger.schema import CAME_BACK, HAZARDS, SALES
from soak.ledger.soaks import soaks
from soak.ledger.units import bought_on, move, record, told
from soak.names import named
from soak.records import Json, canonical_json
from soak.rules.core.verdict import is_ready
from soak.words import Message, joined, msg

_HAZARD_WORDS = re.compile(r"\b(smok|shock|burn|scorch|spark|fire|flame)", re.IGNORECASE)


def sell(
    connection: Connection,
    unit: UnitRow,
    *,
    where: str,
    price: Decimal | None,
    report: str,
    by: str,
    when: When,
    anyway: bool,
) -> Sale:
    """Record a sale.

    Raises
    ------
    LedgerError
        If the unit is sold already, or the day lies before it was bought or came back.
    NeedsAnyway
        If something speaks against the sale: it is not graded ready on real instruments, or only
        as far as tested, or a hazard of its model is open.
    """
    if unit.state == "sold":
        raise LedgerError(
            msg(
                "{tag} is sold already; if it came back, say so first: soak unit back {tag}",
                tag=unit.tag,
            )
        )
    not_before(
        when, bought_on(unit), msg("the day of the sale"), msg("the day the unit was bought")
    )
    job = jobs.current(connection, unit)
    not_before(when, job.when, msg("the day of the sale"), msg("the day its last job began"))
    although = joined("; ", _against(connection, unit, job.job_id, when))
    if although and not anyway:
        raise NeedsAnyway(
            msg(
                "{tag} should not be sold: {although}; insist to record the sale",
                tag=unit.tag,
                although=although,
            )
        )
    entry = record(connection, unit.id, SOLD, when=when, by=by)
    values = {"where": told(where, msg("where it was sold")), "report": report.strip()}
    values |= {"job_id": job.job_id, "although": although}
    connection.execute(
        insert(SALES).values(entry=entry, price=None if price is None else str(price), **values)
    )
    move(connection, unit, "sold")
    return Sale(on=when.day, price=price, by=by.strip(), **values)


def take_back(
    connection: Connection,
    unit: UnitRow,
    *,
    complaint: str,
    answers: Json,
    hazard: str,
    by: str,
    when: When,
) -> CameBack:
    """Record that a sold unit came back, and begin a new job: earlier evidence no longer counts.

    Raises
    ------
    LedgerError
        If the unit is not sold, the day lies before the sale, or the hazard is unknown.
    """
    sales = facts(connection, SOLD, unit=unit)
    if unit.state != "sold" or not sales:
        raise LedgerError(
            msg(
                "{tag} is not sold ({state}), so it cannot come back; record the sale first: "
                "soak unit sold {tag}",
                tag=unit.tag,
                state=named(unit.state),
            )
        )
    check_hazard(hazard)
    not_before(when, sales[-1].when, msg("the day it came back"), msg("the day it was sold"))
    back = CameBack(
        on=when.day,
        complaint=told(complaint, msg("what it came back for")),
        answers=_plain_answers(answers),
        hazard=hazard,
        settled="",
        by=by.strip(),
        warnings=_warnings(connection, unit, complaint, hazard),
    )
    entry = record(connection, unit.id, BACK, when=when, by=by)
    connection.execute(
        insert(CAME_BACK).values(
            entry=entry,
            sale=sales[-1].entry,
            complaint=back.complaint,
            answers=dict(back.answers),
            hazard=hazard,
        )
    )
    move(connection, unit, "came back")
    why = back_for(back.complaint)
    jobs.begin(connection, unit, why=str(why), by=by, when=when, begun_by=entry)
    return back


def check_hazard(hazard: str) -> None:
    """Refuse what is no hazard.

    Raises
    ------
    LedgerError
        If it is none.
    """
    if hazard not in HAZARDS:
        raise LedgerError(
            msg(
                "{hazard} is not a hazard; take smoke, shock or burn, or leave it out",
                hazard=repr(hazard),
            )
        )


def last_sale(connection: Connection, unit: UnitRow) -> Sale | None:
    """Return the latest sale of a unit; None if it was never sold."""
    for sale in reversed(facts(connection, SOLD, unit=unit)):
        return Sale(
            on=sale.when.day,
            where=sale["where"],
            price=None if sale["price"] is None else Decimal(sale["price"]),
            report=sale["report"],
            job_id=sale["job_id"],
            although=sale["although"],
            by=sale.by,
        )
    return None


def returns(
    connection: Connection,
    unit: UnitRow,
    *,
    before: int | None = None,
    corrections: Corrections | None = None,
) -> Sequence[CameBack]:
    """Return every time a unit came back, in order; as it was `before` an entry, where given."""
    back, settled = (
        facts(connection, kind, unit=unit, before=before, corrections=corrections)
        for kind in (BACK, HAZARD_SETTLED)
    )
    by_back = {fact["came_back"]: fact for fact in settled}
    return [_came_back(entry, by_back.get(entry.entry)) for entry in back]


def _came_back(back: Fact, settled: Fact | None) -> CameBack:
    return CameBack(
        on=back.when.day,
        complaint=back["complaint"],
        answers=back["answers"],
        hazard=back["hazard"],
        settled=settled["found"] if settled else "",
        by=back.by,
        done=settled["done"] if settled else "",
    )


def _against(connection: Connection, unit: UnitRow, job_id: str, when: When) -> list[Message]:
    """Say what speaks against a sale at that time."""
    ever = soaks(connection, job_id=job_id)
    done = [line for line in ever if not line.ended_after(when)]
    against = [hazard.text for hazard in open_hazards(connection, unit)]
    if ever and not done:
        return [
            *against,
            msg(
                "soak {soak} ended only after that sale ({when})",
                soak=ever[-1].soak_id,
                when=str(when),
            ),
        ]
    if not done:
        return [*against, msg("it was not soaked since its last job began")]
    if not done[-1].grade:
        return [*against, msg("its last soak {soak} was not judged", soak=done[-1].soak_id)]
    if done[-1].grade != "ready":
        against.append(
            msg(
                "it is graded {grade} ({reason})",
                grade=named(done[-1].grade),
                reason=done[-1].reason,
            )
        )
    if not is_ready(done[-1].grade):
        return against
    if done[-1].simulated:
        return [*against, msg("its last soak was simulated, which shows nothing about a real unit")]
    return against


def _warnings(connection: Connection, unit: UnitRow, complaint: str, hazard: str) -> list[Message]:
    if hazard:
        return [shout(connection, unit, hazard, complaint)]
    if _HAZARD_WORDS.search(complaint):
        return [
            msg(
                "the complaint speaks of something that may have hurt somebody; if it was "
                "smoke, a shock or a burn, record it as that hazard before anybody powers the "
                "unit: soak unit correct {tag} ENTRY --hazard",
                tag=unit.tag,
            )
        ]
    return []


def _plain_answers(answers: Json) -> Json:
    try:
        canonical_json(dict(answers))
    except ValueError as fault:
        raise LedgerError(
            msg("the buyer's answers cannot be kept: {why}", why=told_of(fault))
        ) from None
    return answers
