"""Hazards: a unit that came back for smoke, a shock or a burn, and every unit like it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, insert

from soak.errors import LedgerError
from soak.ledger.amending.corrected import BACK, HAZARD_SETTLED, Fact, UnitRow, facts
from soak.ledger.days import When, not_before
from soak.ledger.schema import SETTLED
from soak.ledger.units import record, same_model, told


@dataclass(frozen=True, slots=True)
class Hazard:
    """A hazard that a unit came back for.

    Attributes
    ----------
    found, done, by : str
        What was found to be its cause, what was done, and who says so; empty while it is open.
    """

    tag: str
    model: str
    hazard: str
    complaint: str
    on: date
    found: str = ""
    done: str = ""
    by: str = ""

    @property
    def text(self) -> str:
        """The hazard in one plain sentence without its full stop."""
        came = f"{self.tag}, a {self.model}, came back on {self.on} ({self.complaint})"
        if not self.found:
            return f"HAZARD OPEN, {self.hazard.upper()}: {came} and its cause is not settled"
        done = f", done: {self.done}" if self.done else ""
        return f"hazard settled, {self.hazard}: {came}; found: {self.found}{done} ({self.by})"


def open_hazards(connection: Connection, unit: UnitRow) -> Sequence[Hazard]:
    """Return the open hazards of a unit and of all others of its model."""
    units = {row.id: row for row in (unit, *same_model(connection, unit))}
    settled = _settlements(connection)
    return [
        _hazard(units[back.unit_id], back, None)
        for back in facts(connection, BACK)
        if back.unit_id in units and back["hazard"] and back.entry not in settled
    ]


def own_hazards(connection: Connection, unit: UnitRow) -> Sequence[Hazard]:
    """Return the hazards that one unit came back for, open ones and settled ones."""
    settled = _settlements(connection)
    return [
        _hazard(unit, back, settled.get(back.entry))
        for back in facts(connection, BACK, unit=unit)
        if back["hazard"]
    ]


def warnings(connection: Connection, unit: UnitRow) -> list[str]:
    """Return what must be said before a unit is powered: open hazards, and its own settled ones."""
    settled = [one for one in own_hazards(connection, unit) if one.found]
    return [f"{hazard.text}." for hazard in (*open_hazards(connection, unit), *settled)]


def _settlements(connection: Connection) -> dict[int, Fact]:
    return {fact["came_back"]: fact for fact in facts(connection, HAZARD_SETTLED)}


def _hazard(unit: UnitRow, back: Fact, settled: Fact | None) -> Hazard:
    told_of = {} if settled is None else {"found": settled["found"], "done": settled["done"]}
    return Hazard(
        unit.tag,
        unit.model,
        back["hazard"],
        complaint=back["complaint"],
        on=back.when.day,
        **told_of,
        by=settled.by if settled else "",
    )


def shout(connection: Connection, unit: UnitRow, hazard: str, complaint: str) -> str:
    """Say loudly that this unit may have hurt somebody, and which others are like it."""
    alike = [f"{row.tag} ({row.state})" for row in same_model(connection, unit)]
    others = f" Look at every other {unit.model}: {', '.join(alike)}." if alike else ""
    return (
        f"HAZARD, {hazard.upper()}: {unit.tag} came back for: {complaint.strip()}. Do not power "
        f"it before somebody competent has looked inside.{others}"
    )


def settle(
    connection: Connection, unit: UnitRow, *, found: str, done: str, by: str, when: When
) -> Sequence[Hazard]:
    """Record what the open hazards of one unit turned out to be and what was done; return them.

    Raises
    ------
    LedgerError
        If the unit has no open hazard, `found`, `done` or `by` is empty, or the day lies before it
        came back.
    """
    settled = _settlements(connection)
    open_ones = [
        back
        for back in facts(connection, BACK, unit=unit)
        if back["hazard"] and back.entry not in settled
    ]
    if not open_ones:
        raise LedgerError(f"{unit.tag} has no open hazard; soak unit show {unit.tag} lists them")
    values = {"found": told(found, "what was found"), "done": told(done, "what was done")}
    who = told(by, "who settled it")
    for back in open_ones:
        not_before(when, back.when, "the day it was settled", "the day it came back")
        entry = record(connection, unit.id, HAZARD_SETTLED, when=when, by=who)
        connection.execute(insert(SETTLED).values(entry=entry, came_back=back.entry, **values))
    return [
        Hazard(
            unit.tag,
            unit.model,
            fact["hazard"],
            complaint=fact["complaint"],
            on=fact.when.day,
            found=values["found"],
            done=values["done"],
            by=who,
        )
        for fact in open_ones
    ]
