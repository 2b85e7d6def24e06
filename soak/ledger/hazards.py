"""Hazards: a unit that came back for smoke, a shock or a burn, and every unit like it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, insert, select

from soak.errors import LedgerError
from soak.ledger.schema import CAME_BACK, ENTRIES, SETTLED, UNITS
from soak.ledger.units import UnitRow, record, same_model, told


@dataclass(frozen=True, slots=True)
class Hazard:
    """A hazard that nobody has settled yet."""

    tag: str
    model: str
    hazard: str
    complaint: str
    on: date

    @property
    def text(self) -> str:
        """The hazard in one plain sentence without its full stop."""
        return (
            f"HAZARD OPEN, {self.hazard.upper()}: {self.tag}, a {self.model}, came back on "
            f"{self.on} ({self.complaint}) and its cause is not settled"
        )


def open_hazards(connection: Connection, unit: UnitRow) -> Sequence[Hazard]:
    """Return the open hazards of a unit and of all others of its model."""
    ids = [unit.id, *(row.id for row in same_model(connection, unit))]
    found = connection.execute(
        select(UNITS.c.tag, UNITS.c.model, CAME_BACK, ENTRIES.c.day)
        .join(ENTRIES, CAME_BACK.c.entry == ENTRIES.c.number)
        .join(UNITS, ENTRIES.c.unit_id == UNITS.c.id)
        .outerjoin(SETTLED, SETTLED.c.came_back == CAME_BACK.c.entry)
        .where(UNITS.c.id.in_(ids), CAME_BACK.c.hazard != "", SETTLED.c.entry.is_(None))
        .order_by(CAME_BACK.c.entry)
    )
    return [
        Hazard(row.tag, row.model, row.hazard, row.complaint, date.fromisoformat(row.day))
        for row in found
    ]


def shout(connection: Connection, unit: UnitRow, hazard: str, complaint: str) -> str:
    """Say loudly that this unit may have hurt somebody, and which others are like it."""
    alike = [f"{row.tag} ({row.state})" for row in same_model(connection, unit)]
    others = f" Look at every other {unit.model}: {', '.join(alike)}." if alike else ""
    return (
        f"HAZARD, {hazard.upper()}: {unit.tag} came back for: {complaint.strip()}. Do not power "
        f"it before somebody competent has looked inside.{others}"
    )


def settle(connection: Connection, unit: UnitRow, *, found: str, by: str, day: date) -> None:
    """Record what the open hazards of one unit turned out to be.

    Raises
    ------
    LedgerError
        If the unit has no open hazard, or `found` or `by` is empty.
    """
    open_ones = connection.scalars(
        select(CAME_BACK.c.entry)
        .join(ENTRIES, CAME_BACK.c.entry == ENTRIES.c.number)
        .outerjoin(SETTLED, SETTLED.c.came_back == CAME_BACK.c.entry)
        .where(ENTRIES.c.unit_id == unit.id, CAME_BACK.c.hazard != "", SETTLED.c.entry.is_(None))
    ).all()
    if not open_ones:
        raise LedgerError(f"{unit.tag} has no open hazard; soak unit show {unit.tag} lists them")
    text, who = told(found, "what the hazard turned out to be"), told(by, "who settled it")
    for came_back in open_ones:
        entry = record(connection, unit, "hazard settled", day, who)
        connection.execute(insert(SETTLED).values(entry=entry, came_back=came_back, found=text))
