"""Sales and what came back of them."""

import re
from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import Connection, Row, insert, select

from soak.errors import LedgerError
from soak.ledger import jobs
from soak.ledger.days import not_before
from soak.ledger.entries import CameBack, NeedsAnyway, Sale
from soak.ledger.hazards import open_hazards, shout
from soak.ledger.schema import CAME_BACK, ENTRIES, HAZARDS, SALES, SETTLED
from soak.ledger.soaks import soaks
from soak.ledger.units import UnitRow, bought_on, move, record, told
from soak.records import Json, canonical_json
from soak.rules.core.verdict import is_ready

_HAZARD_WORDS = re.compile(r"\b(smok|shock|burn|scorch|spark|fire|flame)", re.IGNORECASE)


def sell(
    connection: Connection,
    unit: UnitRow,
    *,
    where: str,
    price: Decimal | None,
    report: str,
    by: str,
    day: date,
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
            f"{unit.tag} is sold already; if it came back, say so first: soak unit back {unit.tag}"
        )
    not_before(day, bought_on(unit), "the day of the sale", "the day the unit was bought")
    job = jobs.current(connection, unit)
    not_before(day, job.begun, "the day of the sale", "the day its last job began")
    although = "; ".join(_against(connection, unit, job.job_id))
    if although and not anyway:
        raise NeedsAnyway(f"{unit.tag} should not be sold: {although}; insist to record the sale")
    entry = record(connection, unit, "sold", day, by)
    values = {"where": told(where, "where it was sold"), "report": report.strip()}
    values |= {"job_id": job.job_id, "although": although}
    connection.execute(
        insert(SALES).values(entry=entry, price=None if price is None else str(price), **values)
    )
    move(connection, unit, "sold")
    return Sale(on=day, price=price, by=by.strip(), **values)


def take_back(
    connection: Connection,
    unit: UnitRow,
    *,
    complaint: str,
    answers: Json,
    hazard: str,
    by: str,
    day: date,
) -> CameBack:
    """Record that a sold unit came back, and begin a new job: earlier evidence no longer counts.

    Raises
    ------
    LedgerError
        If the unit is not sold, the day lies before the sale, or the hazard is unknown.
    """
    sale = _last_sale_row(connection, unit)
    if unit.state != "sold" or sale is None:
        raise LedgerError(
            f"{unit.tag} is not sold ({unit.state}), so it cannot come back; record the sale "
            f"first: soak unit sold {unit.tag}"
        )
    if hazard not in HAZARDS:
        raise LedgerError(f"{hazard!r} is not a hazard; take smoke, shock or burn, or leave it out")
    sold_on = date.fromisoformat(sale.day)
    not_before(day, sold_on, "the day it came back", "the day it was sold")
    back = CameBack(
        on=day,
        complaint=told(complaint, "what it came back for"),
        answers=_plain_answers(answers),
        hazard=hazard,
        settled="",
        by=by.strip(),
        warnings=_warnings(connection, unit, complaint, hazard),
    )
    entry = record(connection, unit, "came back", day, by)
    connection.execute(
        insert(CAME_BACK).values(
            entry=entry,
            sale=sale.entry,
            complaint=back.complaint,
            answers=dict(back.answers),
            hazard=hazard,
        )
    )
    move(connection, unit, "came back")
    jobs.begin(connection, unit, why=f"came back: {back.complaint}", by=by, day=day)
    return back


def last_sale(connection: Connection, unit: UnitRow) -> Sale | None:
    """Return the latest sale of a unit; None if it was never sold."""
    row = _last_sale_row(connection, unit)
    if row is None:
        return None
    return Sale(
        on=date.fromisoformat(row.day),
        where=row.where,
        price=None if row.price is None else Decimal(row.price),
        report=row.report,
        job_id=row.job_id,
        although=row.although,
        by=row.by,
    )


def returns(connection: Connection, unit: UnitRow) -> Sequence[CameBack]:
    """Return every time a unit came back, in order."""
    found = connection.execute(
        select(CAME_BACK, ENTRIES.c.day, ENTRIES.c.by, SETTLED.c.found)
        .join(ENTRIES, CAME_BACK.c.entry == ENTRIES.c.number)
        .outerjoin(SETTLED, SETTLED.c.came_back == CAME_BACK.c.entry)
        .where(ENTRIES.c.unit_id == unit.id)
        .order_by(CAME_BACK.c.entry)
    )
    return [
        CameBack(
            on=date.fromisoformat(row.day),
            complaint=row.complaint,
            answers=row.answers,
            hazard=row.hazard,
            settled=row.found or "",
            by=row.by,
        )
        for row in found
    ]


def _last_sale_row(connection: Connection, unit: UnitRow) -> Row[Any] | None:
    return connection.execute(
        select(SALES, ENTRIES.c.day, ENTRIES.c.by)
        .join(ENTRIES, SALES.c.entry == ENTRIES.c.number)
        .where(ENTRIES.c.unit_id == unit.id)
        .order_by(SALES.c.entry.desc())
        .limit(1)
    ).one_or_none()


def _against(connection: Connection, unit: UnitRow, job_id: str) -> list[str]:
    """Say what speaks against a sale."""
    done = soaks(connection, job_id=job_id)
    against = [hazard.text for hazard in open_hazards(connection, unit)]
    if not done:
        return [*against, "it was not soaked since its last job began"]
    if not done[-1].grade:
        return [*against, f"its last soak {done[-1].soak_id} was not judged"]
    if done[-1].grade != "ready":
        against.append(f"it is graded {done[-1].grade} ({done[-1].reason})")
    if not is_ready(done[-1].grade):
        return against
    if done[-1].simulated:
        return [*against, "its last soak was simulated, which shows nothing about a real unit"]
    return against


def _warnings(connection: Connection, unit: UnitRow, complaint: str, hazard: str) -> list[str]:
    if hazard:
        return [shout(connection, unit, hazard, complaint)]
    if _HAZARD_WORDS.search(complaint):
        return [
            "the complaint speaks of something that may have hurt somebody; if it was smoke, a "
            "shock or a burn, record it as that hazard before anybody powers the unit"
        ]
    return []


def _plain_answers(answers: Json) -> Json:
    try:
        canonical_json(dict(answers))
    except ValueError as fault:
        raise LedgerError(f"the buyer's answers cannot be kept: {fault}") from None
    return answers
