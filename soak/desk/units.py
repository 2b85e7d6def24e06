"""What the operator does with the ledger, answered in plain text."""

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import Any

from soak.desk.bench_folder import BenchFolder
from soak.desk.paper.details import begin_details
from soak.desk.paper.issued import report_of_unit
from soak.errors import LedgerError
from soak.frozen.sheet import ModelSheet
from soak.ledger.entries import CardLine, NeedsAnyway
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
    with insisting():
        unit = ledger.add_unit(model=model, serial=serial, **given)
    added = f"{unit.tag}: added, {unit.model}, serial {unit.serial}"
    return with_clock(ledger, "\n".join([*seen, added]))


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
    """Show everything about one unit in order of time, each entry with its number."""
    ledger = open_ledger(bench)
    found = ledger.unit_card(unit)
    if as_json:
        return json.dumps(asdict(found), default=str, indent=2)
    wrong = "".join(f", once recorded as {one}" for one in found.unit.mistyped)
    serial = f"serial {found.unit.serial}{wrong}"
    head = f"{found.unit.tag}  {found.unit.model}  {serial}  {found.unit.state}"
    use = (
        f"used by soaking: {found.wear.starts} starts, {show_duration(found.wear.powered_s)} on, "
        f"{show_bytes(found.wear.written_bytes)} written"
    )
    said = [text for text in (ledger.mistyped(unit), *found.warnings) if text]
    return "\n".join([head, *said, _columns(list(map(_row, found.lines))), use])


def _row(line: CardLine) -> tuple[str, ...]:
    """Return a line of the card; one that no longer counts is crossed out by dashes."""
    text = f"--{line.text}--" if line.withdrawn else line.text
    noted = "; ".join([text, *line.notes])
    return str(line.entry or ""), f"{line.on} {line.at}".strip(), line.kind, noted, line.by


def repair(bench: Path, unit: str, what: str, function: str, given: Mapping[str, str]) -> str:
    """Record a repair; the function must be one of the model sheet."""
    ledger = open_ledger(bench)
    found = ledger.find_unit(unit)
    sheet = check_function(bench, found.model, function)
    done = ledger.record_repair(unit, what=what, function=function, **given)
    told = (
        f"{found.tag}: {done.id} {done.what}; a soak must show {done.function} before it is ready"
    )
    return with_clock(ledger, "\n".join([told, *_nothing_shows(sheet, function)]))


def check_function(bench: Path, model: str, function: str) -> ModelSheet:
    """Return a model's sheet; refuse what is no function of a model.

    Raises
    ------
    LedgerError
        If its sheet does not have it.
    """
    sheet = BenchFolder(bench).model_sheet(model)
    functions = list(sheet.functions)
    if function not in functions:
        nearest = nearest_name(function, functions)
        hint = f" (did you mean {nearest}?)" if nearest else f"; it has {', '.join(functions)}"
        raise LedgerError(f"{model} has no function {function!r}{hint}")
    return sheet


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
    """Begin a new job; say which soaks no longer count, and which ran on past the opening."""
    ledger = open_ledger(bench)
    before = ledger.current_job(unit)
    job = ledger.opened(unit, why=why, **given)
    lines = [line for line in ledger.soaks(unit) if line.job_id == before.job_id]
    told = f"job {job.job_id} begins, opened {job.when}; soaks before count only against it"
    past = [
        f"MIND: soak {line.soak_id} of job {before.job_id} ran on past that or still runs; nothing "
        f"of it counts for {job.job_id}: soak again"
        for line in lines
        if job.when is not None and (not line.ended or line.ended_after(job.when))
    ]
    return with_clock(ledger, "\n".join([told, *past]))


def wiped(bench: Path, unit: str, **given: str) -> str:
    """Record that data was removed."""
    ledger = open_ledger(bench)
    done = ledger.wiped(unit, **given)
    told = (
        f"{unit}: data removed ({done.how}), verified ({done.verified}) by {done.by} on {done.on}"
    )
    return with_clock(ledger, told)


def sold(bench: Path, unit: str, where: str, given: Mapping[str, str], *, anyway: bool) -> str:
    """Record a sale."""
    ledger = open_ledger(bench)
    shown = given["report"] or report_of_unit(BenchFolder(bench), ledger, unit)
    with insisting():
        sale = ledger.sold(unit, where=where, anyway=anyway, **{**given, "report": shown})
    although = f", although {sale.although}" if sale.although else ""
    by_report = f", on report {sale.report}" if sale.report else ", and no report was made of it"
    return with_clock(ledger, f"{unit}: sold on {sale.on} ({sale.where}){by_report}{although}")


def back(bench: Path, unit: str, complaint: str, *, hazard: str, on: str, by: str) -> str:
    """Record a come-back; its warnings come first."""
    ledger = open_ledger(bench)
    found = ledger.back(unit, complaint=complaint, hazard=hazard, on=on, by=by)
    card = ledger.unit_card(unit)
    sightings = [sighting.text for sighting in ledger.seen_before(card.unit.serial)]
    told = [*found.warnings, *sightings, f"{card.unit.tag}: job {card.job.job_id} begins"]
    return with_clock(ledger, "\n".join(told))


def with_clock(ledger: Ledger, told: str) -> str:
    """Add to what was told that the computer's clock stands before the newest entry, if so."""
    doubt = ledger.clock_set_back()
    return f"{told}\nMIND: {doubt}" if doubt else told


@contextmanager
def insisting() -> Iterator[None]:
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
