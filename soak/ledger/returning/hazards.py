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
from soak.names import named
from soak.words import Message, joined, just, msg, paragraph


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
    def text(self) -> Message:
        """The hazard in one plain sentence without its full stop."""
        came = msg(
            "{tag}, a {model}, came back on {on} ({complaint})",
            tag=self.tag,
            model=self.model,
            on=str(self.on),
            complaint=self.complaint,
        )
        if not self.found:
            return msg(
                "HAZARD OPEN, {hazard}: {came} and its cause is not settled",
                hazard=spelt_hazard(self.hazard),
                came=came,
            )
        words = msg("found: {found}", found=self.found)
        if self.done:
            words = msg("found: {found}, done: {done}", found=self.found, done=self.done)
        return msg(
            "hazard settled, {hazard}: {came}; {found} ({by})",
            hazard=_quiet(self.hazard),
            came=came,
            found=words,
            by=self.by,
        )


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


def warnings(connection: Connection, unit: UnitRow) -> list[Message]:
    """Return what must be said before a unit is powered: open hazards, and its own settled ones."""
    settled = [hazard for hazard in own_hazards(connection, unit) if hazard.found]
    return [
        joined("", [hazard.text, "."]) for hazard in (*open_hazards(connection, unit), *settled)
    ]


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


def shout(connection: Connection, unit: UnitRow, hazard: str, complaint: str) -> Message:
    """Say loudly that this unit may have hurt somebody, and which others are like it."""
    alike = [
        msg("{tag} ({state})", tag=row.tag, state=named(row.state))
        for row in same_model(connection, unit)
    ]
    text = msg(
        "HAZARD, {hazard}: {tag} came back for: {complaint}. Do not power it before somebody "
        "competent has looked inside.",
        hazard=spelt_hazard(hazard),
        tag=unit.tag,
        complaint=complaint.strip(),
    )
    if not alike:
        return text
    others = msg(
        "Look at every other {model}: {units}.", model=unit.model, units=joined(", ", alike)
    )
    return paragraph(text, others)


def spelt_hazard(hazard: str) -> Message:
    """Return a hazard in capitals."""
    loud = {"smoke": msg("SMOKE"), "shock": msg("SHOCK"), "burn": msg("BURN")}
    return loud.get(hazard) or just(hazard.upper())


def _quiet(hazard: str) -> Message:
    small = {"smoke": msg("smoke"), "shock": msg("shock"), "burn": msg("burn")}
    return small.get(hazard) or just(hazard)


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
        raise LedgerError(
            msg("{tag} has no open hazard; soak unit show {tag} lists them", tag=unit.tag)
        )
    values = {"found": told(found, msg("what was found")), "done": told(done, msg("what was done"))}
    who = told(by, msg("who settled it"))
    for back in open_ones:
        not_before(when, back.when, msg("the day it was settled"), msg("the day it came back"))
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
