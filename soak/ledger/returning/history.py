"""A unit's card: everything that happened to it, in order of time."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, time
from typing import Any

from sqlalchemy import Connection

from soak.ledger import jobs
from soak.ledger.amending.corrected import (
    BACK,
    CORRECTED,
    DEMAND_WITHDRAWN,
    HAZARD_SETTLED,
    JOB,
    PHOTOGRAPH,
    REPAIR,
    SOAK,
    SOLD,
    WIPING,
    WITHDRAWN,
    Correction,
    Corrections,
    Fact,
    UnitRow,
    facts,
)
from soak.ledger.entries import CardLine, SoakLine, UnitCard, Wear
from soak.ledger.returning.hazards import warnings
from soak.ledger.soaks import gradings, soaks
from soak.ledger.units import as_unit, bought_on, entries_set_back
from soak.quantities import show_bytes, show_duration


def card(connection: Connection, unit: UnitRow) -> UnitCard:
    """Return everything about one unit, by day and hour, else as it was recorded."""
    soaked = soaks(connection, unit=unit)
    return UnitCard(
        as_unit(unit),
        jobs.current(connection, unit),
        _lines(connection, unit, soaked),
        wear=sum((line.wear for line in soaked), Wear()),
        warnings=warnings(connection, unit),
    )


def _lines(connection: Connection, unit: UnitRow, soaked: Sequence[SoakLine]) -> Sequence[CardLine]:
    known = Corrections.read(connection)
    set_back = entries_set_back(connection)
    by_soak = {line.soak_id: line for line in soaked}
    ever = [
        fact
        for kind in (*_RECORDED, SOAK)
        for fact in facts(connection, kind, unit=unit, withdrawn=True)
    ]
    ever += [_as_fact(correction) for correction in known.all if correction.unit_id == unit.id]
    lines = []
    for fact in _in_order(sorted(ever, key=lambda one: one.entry), set_back):
        notes = _notes(fact, known, set_back)
        lines.append(_line(connection, fact, by_soak, notes=notes, known=known))
    bought = bought_on(unit)
    return lines if bought is None else [CardLine(bought.day, "bought", unit.model, ""), *lines]


def _in_order(recorded: Sequence[Fact], set_back: frozenset[int]) -> list[Fact]:
    """Order entries by day, and by the minute where it is known.

    One of which only the day is known stays behind those of that day that were recorded before it;
    one recorded by a clock that was set back stays behind the one recorded before it.
    """
    placed: list[tuple[datetime, int, Fact]] = []
    latest: dict[object, datetime] = {}
    before = datetime.min
    for number, fact in enumerate(recorded):
        at = fact.when.at.replace(tzinfo=None) if fact.when.at else None
        if fact.entry in set_back and at is None:
            at = before
        at = at or latest.get(fact.when.day) or datetime.combine(fact.when.day, time.min)
        latest[fact.when.day] = max(at, latest.get(fact.when.day, at))
        before = at
        placed.append((at, number, fact))
    return [fact for _, _, fact in sorted(placed, key=lambda one: one[:2])]


def _line(
    connection: Connection,
    fact: Fact,
    by_soak: Mapping[str, SoakLine],
    notes: Sequence[str],
    known: Corrections,
) -> CardLine:
    if fact.kind == SOAK:
        line = by_soak[fact["soak_id"]]
        detail: Mapping[str, Any] = {
            "soak_id": line.soak_id,
            "gradings": gradings(connection, line.soak_id),
        }
        text = _soak_text(line)
    else:
        detail = {key: value for key, value in fact.said.items() if key != "unit_id"}
        text = _TEXTS[fact.kind](fact)
    return CardLine(
        fact.when.day,
        fact.kind,
        text,
        by=fact.by,
        detail=detail,
        at=f"{fact.when.at:%H:%M}" if fact.when.at else "",
        entry=fact.entry,
        notes=notes,
        withdrawn=known.withdrawal(_counts_by(fact)) is not None,
    )


def _counts_by(fact: Fact) -> int:
    """Return the entry whose withdrawal withdraws this one."""
    return int((fact.kind == JOB and fact["begun_by"]) or fact.entry)


def _notes(fact: Fact, known: Corrections, set_back: frozenset[int]) -> list[str]:
    notes = [
        f"corrected by entry {correction.entry}"
        for correction in known.of(fact.entry)
        if correction.new is not None and known.stands(correction)
    ]
    by = known.withdrawal(_counts_by(fact))
    if by is not None:
        notes.append(f"WITHDRAWN by entry {by.entry}: {by.why} ({by.by})")
    if fact.entry in set_back:
        notes.append("recorded by a clock that had been set back")
    return notes


def _as_fact(one: Correction) -> Fact:
    kind = WITHDRAWN if one.new is None else CORRECTED
    said = {"of": one.of, "why": one.why, "new": one.new}
    return Fact(one.entry, one.unit_id, kind, when=one.when, by=one.by, said=said)


def _soak_text(line: SoakLine) -> str:
    wear = line.wear
    grade = line.grade or "not judged"
    reason = f" ({line.reason})" if line.reason else ""
    simulated = "simulated, " if line.simulated else ""
    cost = (
        f"{wear.starts} starts, {show_duration(wear.powered_s)} powered, "
        f"{show_bytes(wear.written_bytes)} written"
    )
    ended = line.ended or "not ended"
    return f"{line.script}, {simulated}{ended}: {grade}{reason}; {cost}"


def _repair(fact: Fact) -> str:
    part = f", {fact['part']}" if fact["part"] else ""
    batch = f", batch {fact['batch']}" if fact["batch"] else ""
    return f"{fact['id']}, {fact['kind']}: {fact['what']} (for {fact['function']}{part}{batch})"


def _sale(fact: Fact) -> str:
    price = f" for {fact['price']}" if fact["price"] is not None else ""
    report = f", listing showed report {fact['report']}" if fact["report"] else ""
    although = f"; although {fact['although']}" if fact["although"] else ""
    return f"{fact['where']}{price}{report}{although}"


def _came_back(fact: Fact) -> str:
    hazard = f"HAZARD, {fact['hazard'].upper()}: " if fact["hazard"] else ""
    answers = "; ".join(f"{asked}: {said}" for asked, said in fact["answers"].items())
    return f"{hazard}{fact['complaint']}" + (f" ({answers})" if answers else "")


def _settled(fact: Fact) -> str:
    return f"found: {fact['found']}" + (f"; done: {fact['done']}" if fact["done"] else "")


def _correction(fact: Fact) -> str:
    new = fact["new"] or {}
    text = ", ".join(f"{name}: {value}" for name, value in new.items() if name not in _UNSAID)
    what = f" ({text})" if text else ""
    return f"entry {fact['of']}{what}: {fact['why']}"


_UNSAID = ("at", "bought")
"""What a correction holds beside the words that it puts in place."""

_TEXTS: Mapping[str, Callable[[Fact], str]] = {
    JOB: lambda fact: f"job {fact['job_id']} begins: {fact['why']}",
    REPAIR: _repair,
    SOLD: _sale,
    BACK: _came_back,
    HAZARD_SETTLED: _settled,
    WIPING: lambda fact: f"{fact['how']}; verified: {fact['verified']}",
    DEMAND_WITHDRAWN: lambda fact: f"{fact['demand']} of soak {fact['soak_id']}: {fact['because']}",
    PHOTOGRAPH: lambda fact: f"{fact['what']}: {fact['file']}",
    WITHDRAWN: _correction,
    CORRECTED: _correction,
}
_RECORDED = [kind for kind in _TEXTS if kind not in (WITHDRAWN, CORRECTED)]
