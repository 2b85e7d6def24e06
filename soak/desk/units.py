"""What the operator does with the ledger, answered in plain text."""

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import Any

from soak.bench.model_sheet import ModelSheet
from soak.desk.bench_folder import BenchFolder
from soak.desk.details import begin_details
from soak.desk.issued import report_of_unit
from soak.errors import LedgerError
from soak.ledger.entries import NeedsAnyway
from soak.ledger.ledger import Ledger
from soak.quantities import show_bytes, show_duration
from soak.settings import nearest_name


def open_ledger(bench: Path) -> Ledger:
    """Open the ledger of a bench folder."""
    return Ledger(BenchFolder(bench).ledger)


def add(bench: Path, serial: str, *, model: str, **given: Any) -> str:
    """Add a unit; what the ledger knows of a like serial comes first."""
    BenchFolder(bench).model_sheet(model)
    ledger = open_ledger(bench)
    seen = [sighting.text for sighting in ledger.seen_before(serial)]
    with _insisting():
        unit = ledger.add_unit(model=model, serial=serial, **given)
    return "\n".join([*seen, f"{unit.tag}: added, {unit.model}, serial {unit.serial}"])


def listing(bench: Path, *, as_json: bool) -> str:
    """List all units, a line each."""
    ledger = open_ledger(bench)
    units = ledger.list_units()
    if as_json:
        return json.dumps([asdict(unit) for unit in units], default=str, indent=2)
    if not units:
        return "no unit yet; add one with `soak unit add SERIAL --model MODEL`"
    latest = {line.job_id.rpartition("-")[0]: line for line in ledger.soaks()}
    rows = [("tag", "serial", "model", "state", "last grade")]
    for unit in units:
        line = latest.get(unit.tag)
        rows.append((unit.tag, unit.serial, unit.model, unit.state, line.grade if line else ""))
    return _columns(rows)


def card(bench: Path, unit: str, *, as_json: bool) -> str:
    """Show everything about one unit in order of time."""
    found = open_ledger(bench).unit_card(unit)
    if as_json:
        return json.dumps(asdict(found), default=str, indent=2)
    head = f"{found.unit.tag}  {found.unit.model}  serial {found.unit.serial}  {found.unit.state}"
    use = (
        f"used by soaking: {found.wear.starts} starts, {show_duration(found.wear.powered_s)} on, "
        f"{show_bytes(found.wear.written_bytes)} written"
    )
    lines = [(str(line.on), line.kind, line.text, line.by) for line in found.lines]
    return "\n".join([head, *found.warnings, _columns(lines), use])


def repair(bench: Path, unit: str, what: str, function: str, given: Mapping[str, str]) -> str:
    """Record a repair; the function must be one of the model sheet."""
    ledger = open_ledger(bench)
    found = ledger.find_unit(unit)
    sheet = BenchFolder(bench).model_sheet(found.model)
    functions = list(sheet.functions)
    if function not in functions:
        nearest = nearest_name(function, functions)
        hint = f" (did you mean {nearest}?)" if nearest else f"; it has {', '.join(functions)}"
        raise LedgerError(f"{found.model} has no function {function!r}{hint}")
    done = ledger.record_repair(unit, what=what, function=function, **given)
    return "\n".join(
        [
            f"{found.tag}: {done.id} {done.what}; a soak must show {done.function} before it is "
            "ready",
            *_nothing_shows(sheet, function),
        ]
    )


def _nothing_shows(sheet: ModelSheet, function: str) -> list[str]:
    """Say that no check of the model sheet could show a repair; nothing if one can."""
    one = sheet.functions[function]
    if one.check:
        return []
    by_hand = ""
    if one.port and sheet.ports[one.port].kind == "usb":
        by_hand = f", or carry data through it by hand (soak carry pack, --port {one.port})"
    return [
        f"MIND: no check of the model sheet exercises {function}, so no soak can show this repair; "
        f"give [functions.{function}] a check in the model sheet{by_hand}"
    ]


def details(bench: Path, unit: str) -> str:
    """Write the file for what only people know of a unit's job; return where it is."""
    job = open_ledger(bench).current_job(unit)
    return (
        f"{begin_details(BenchFolder(bench), job.job_id)}\nfill it in; what it leaves out of the "
        "claim counts for soaks that begin after that, all else for the next soak report"
    )


def opened(bench: Path, unit: str, why: str, **given: str) -> str:
    """Begin a new job."""
    job = open_ledger(bench).opened(unit, why=why, **given)
    return f"job {job.job_id} begins; soaks before count no longer for it, only against it"


def wiped(bench: Path, unit: str, **given: str) -> str:
    """Record that data was removed."""
    done = open_ledger(bench).wiped(unit, **given)
    return (
        f"{unit}: data removed ({done.how}), verified ({done.verified}) by {done.by} on {done.on}"
    )


def sold(bench: Path, unit: str, where: str, given: Mapping[str, str], *, anyway: bool) -> str:
    """Record a sale."""
    ledger = open_ledger(bench)
    shown = given["report"] or report_of_unit(BenchFolder(bench), ledger, unit)
    with _insisting():
        sale = ledger.sold(unit, where=where, anyway=anyway, **{**given, "report": shown})
    although = f", although {sale.although}" if sale.although else ""
    by_report = f", on report {sale.report}" if sale.report else ", and no report was made of it"
    return f"{unit}: sold on {sale.on} ({sale.where}){by_report}{although}"


def back(bench: Path, unit: str, complaint: str, *, hazard: str, on: str, by: str) -> str:
    """Record a come-back; its warnings come first."""
    ledger = open_ledger(bench)
    found = ledger.back(unit, complaint=complaint, hazard=hazard, on=on, by=by)
    card = ledger.unit_card(unit)
    sightings = [sighting.text for sighting in ledger.seen_before(card.unit.serial)]
    return "\n".join(
        [*found.warnings, *sightings, f"{card.unit.tag}: job {card.job.job_id} begins"]
    )


@contextmanager
def _insisting() -> Iterator[None]:
    """Say how to insist at the command line."""
    try:
        yield
    except NeedsAnyway as fault:
        raise LedgerError(f"{fault} (add --anyway)") from None


def _columns(rows: Sequence[tuple[str, ...]]) -> str:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)] if rows else []
    lines = [
        "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True))
        for row in rows
    ]
    return "\n".join(line.rstrip() for line in lines)
