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
from soak.ledger.returning.hazards import spelt_hazard, warnings
from soak.ledger.soaks import gradings, soaks
from soak.ledger.units import as_unit, bought_on, entries_set_back
from soak.names import named
from soak.words import Amount, Message, in_brackets, joined, just, msg


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
    return (
        lines if bought is None else [CardLine(bought.day, "bought", just(unit.model), ""), *lines]
    )


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
    notes: Sequence[Message],
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


def _notes(fact: Fact, known: Corrections, set_back: frozenset[int]) -> list[Message]:
    notes = [
        msg("corrected by entry {entry}", entry=correction.entry)
        for correction in known.of(fact.entry)
        if correction.new is not None and known.stands(correction)
    ]
    by = known.withdrawal(_counts_by(fact))
    if by is not None:
        notes.append(
            msg("WITHDRAWN by entry {entry}: {why} ({by})", entry=by.entry, why=by.why, by=by.by)
        )
    if fact.entry in set_back:
        notes.append(msg("recorded by a clock that had been set back"))
    return notes


def _as_fact(one: Correction) -> Fact:
    kind = WITHDRAWN if one.new is None else CORRECTED
    said = {"of": one.of, "why": one.why, "new": one.new}
    return Fact(one.entry, one.unit_id, kind, when=one.when, by=one.by, said=said)


def _soak_text(line: SoakLine) -> Message:
    wear = line.wear
    ended = named(line.ended) if line.ended else msg("not ended")
    simulated = msg("simulated") if line.simulated else None
    grade = named(line.grade) if line.grade else msg("not judged")
    if line.reason:
        grade = joined(" ", [grade, in_brackets(line.reason)])
    cost = msg(
        "{starts} starts, {time} powered, {written} written",
        starts=wear.starts,
        time=Amount(wear.powered_s, "s"),
        written=Amount(wear.written_bytes, "B"),
    )
    how = joined(", ", [named(line.script), simulated, ended])
    return joined("; ", [joined(": ", [how, grade]), cost])


def _repair(fact: Fact) -> Message:
    batch = msg("batch {batch}", batch=fact["batch"]) if fact["batch"] else None
    of = msg("for {function}", function=fact["function"])
    return msg(
        "{id}, {kind}: {what} ({of})",
        id=fact["id"],
        kind=named(fact["kind"]),
        what=fact["what"],
        of=joined(", ", [of, fact["part"], batch]),
    )


def _sale(fact: Fact) -> Message:
    where = just(fact["where"])
    if fact["price"] is not None:
        where = msg("{where} for {price}", where=where, price=str(fact["price"]))
    report = None
    if fact["report"]:
        report = msg("listing showed report {report}", report=fact["report"])
    although = msg("although {why}", why=fact["although"]) if fact["although"] else None
    return joined("; ", [joined(", ", [where, report]), although])


def _came_back(fact: Fact) -> Message:
    answers = [joined(": ", [asked, said]) for asked, said in fact["answers"].items()]
    words = joined(
        " ", [fact["complaint"], in_brackets(joined("; ", answers)) if answers else None]
    )
    if not fact["hazard"]:
        return words
    return msg("HAZARD, {hazard}: {words}", hazard=spelt_hazard(fact["hazard"]), words=words)


def _settled(fact: Fact) -> Message:
    done = msg("done: {done}", done=fact["done"]) if fact["done"] else None
    return joined("; ", [msg("found: {found}", found=fact["found"]), done])


def _correction(fact: Fact) -> Message:
    new = fact["new"] or {}
    words = joined(", ", [f"{name}: {value}" for name, value in new.items() if name not in _UNSAID])
    of = joined(
        " ", [msg("entry {entry}", entry=fact["of"]), in_brackets(words) if words else None]
    )
    return joined(": ", [of, fact["why"]])


def _job(fact: Fact) -> Message:
    return msg("job {job} begins: {why}", job=fact["job_id"], why=_why_begun(fact["why"]))


def _why_begun(why: str) -> Message:
    """Say why a job began: a come-back tells it as a message, the ledger by its English."""
    return why if isinstance(why, Message) else named(why)


def _demand_withdrawn(fact: Fact) -> Message:
    return msg(
        "{demand} of soak {soak}: {because}",
        demand=fact["demand"],
        soak=fact["soak_id"],
        because=fact["because"],
    )


_UNSAID = ("at", "bought")
"""What a correction holds beside the words that it puts in place."""

_TEXTS: Mapping[str, Callable[[Fact], Message]] = {
    JOB: _job,
    REPAIR: _repair,
    SOLD: _sale,
    BACK: _came_back,
    HAZARD_SETTLED: _settled,
    WIPING: lambda fact: msg("{how}; verified: {by}", how=fact["how"], by=fact["verified"]),
    DEMAND_WITHDRAWN: _demand_withdrawn,
    PHOTOGRAPH: lambda fact: joined(": ", [fact["what"], fact["file"]]),
    WITHDRAWN: _correction,
    CORRECTED: _correction,
}
_RECORDED = [kind for kind in _TEXTS if kind not in (WITHDRAWN, CORRECTED)]
