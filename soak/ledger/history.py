"""A unit's card: everything that happened to it, in order of time."""

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import Any

from sqlalchemy import Connection, Row, Table, select

from soak.ledger import jobs
from soak.ledger.entries import CardLine, SoakLine, UnitCard, Wear
from soak.ledger.hazards import open_hazards
from soak.ledger.schema import (
    CAME_BACK,
    ENTRIES,
    JOBS,
    PHOTOGRAPHS,
    REPAIRS,
    SALES,
    SETTLED,
    SOAKS,
    WIPED,
    WITHDRAWN,
)
from soak.ledger.soaks import gradings, soaks
from soak.ledger.units import UnitRow, as_unit, bought_on
from soak.quantities import show_bytes, show_duration


def card(connection: Connection, unit: UnitRow) -> UnitCard:
    """Return everything about one unit, by day and, within a day, as it was recorded."""
    soaked = soaks(connection, unit=unit)
    wear = sum((line.wear for line in soaked), Wear())
    warnings = [f"{hazard.text}." for hazard in open_hazards(connection, unit)]
    return UnitCard(
        as_unit(unit), jobs.current(connection, unit), _lines(connection, unit), wear, warnings
    )


def _lines(connection: Connection, unit: UnitRow) -> Sequence[CardLine]:
    found = connection.execute(
        select(ENTRIES)
        .where(ENTRIES.c.unit_id == unit.id)
        .order_by(ENTRIES.c.day, ENTRIES.c.number)
    ).all()
    by_soak = {line.soak_id: line for line in soaks(connection, unit=unit)}
    lines = [_line(connection, entry, by_soak) for entry in found]
    bought = bought_on(unit)
    if bought is None:
        return lines
    return [CardLine(bought, "bought", unit.model, ""), *lines]


def _line(connection: Connection, entry: Row[Any], by_soak: Mapping[str, SoakLine]) -> CardLine:
    day = date.fromisoformat(entry.day)
    if entry.kind == "soak":
        line = _soak_at(connection, entry.number, by_soak)
        detail = {"soak_id": line.soak_id, "gradings": gradings(connection, line.soak_id)}
        return CardLine(day, "soak", _soak_text(line), entry.by, detail)
    table, text = _KINDS[entry.kind]
    row = connection.execute(select(table).where(table.c.entry == entry.number)).one()
    detail = {key: value for key, value in row._mapping.items() if key not in ("entry", "unit_id")}
    return CardLine(day, entry.kind, text(row), entry.by, detail)


def _soak_at(connection: Connection, number: int, by_soak: Mapping[str, SoakLine]) -> SoakLine:
    soak_id = connection.scalar(select(SOAKS.c.soak_id).where(SOAKS.c.entry == number))
    return by_soak[str(soak_id)]


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


def _repair(row: Row[Any]) -> str:
    part = f", {row.part}" if row.part else ""
    batch = f", batch {row.batch}" if row.batch else ""
    return f"{row.id}, {row.kind}: {row.what} (for {row.function}{part}{batch})"


def _sale(row: Row[Any]) -> str:
    price = f" for {row.price}" if row.price is not None else ""
    report = f", listing showed report {row.report}" if row.report else ""
    although = f"; although {row.although}" if row.although else ""
    return f"{row.where}{price}{report}{although}"


def _came_back(row: Row[Any]) -> str:
    hazard = f"HAZARD, {row.hazard.upper()}: " if row.hazard else ""
    answers = "; ".join(f"{asked}: {said}" for asked, said in row.answers.items())
    return f"{hazard}{row.complaint}" + (f" ({answers})" if answers else "")


_KINDS: Mapping[str, tuple[Table, Callable[[Row[Any]], str]]] = {
    "job": (JOBS, lambda row: f"job {row.job_id} begins: {row.why}"),
    "repair": (REPAIRS, _repair),
    "sold": (SALES, _sale),
    "came back": (CAME_BACK, _came_back),
    "hazard settled": (SETTLED, lambda row: str(row.found)),
    "wiped": (WIPED, lambda row: f"{row.how}; verified: {row.verified}"),
    "demand withdrawn": (
        WITHDRAWN,
        lambda row: f"{row.demand} of soak {row.soak_id}: {row.because}",
    ),
    "photograph": (PHOTOGRAPHS, lambda row: f"{row.what}: {row.file}"),
}
