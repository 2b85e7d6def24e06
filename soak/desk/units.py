"""What the operator does with the ledger, answered in plain text."""

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import Any

from soak.desk.bench_folder import BenchFolder
from soak.desk.from_before.jobs_before import soaks_beside_the_ledger
from soak.desk.paper.details import begin_details
from soak.desk.paper.issued import report_of_unit
from soak.desk.trust.belongings import minds, photograph_faults
from soak.desk.trust.keys import make_key
from soak.errors import LedgerError, told_of
from soak.frozen.sheet import ModelSheet
from soak.journal.cleared import cleared
from soak.ledger.entries import CardLine, NeedsAnyway, serial_of
from soak.ledger.ledger import Ledger
from soak.names import named
from soak.settings import nearest_name
from soak.words import NOTHING_SAID, Amount, Data, Message, Output, Said, joined, msg, table


def open_ledger(bench: Path) -> Ledger:
    """Open the ledger of a bench folder; what makes the first one makes the bench's key with it."""
    file = BenchFolder(bench).ledger
    is_new = not file.exists()
    ledger = Ledger(file)
    if is_new:
        make_key(bench)
    return ledger


def add(bench: Path, serial: str, *, model: str, **given: Any) -> Message:
    """Add a unit; what the ledger knows of a like serial comes first."""
    BenchFolder(bench).model_sheet(model)
    ledger = open_ledger(bench)
    seen = [sighting.text for sighting in ledger.seen_before(serial)]
    with insisting():
        unit = ledger.add_unit(model=model, serial=serial, **given)
    added = msg(
        "{tag}: added, {model}, serial {serial}",
        tag=unit.tag,
        model=unit.model,
        serial=unit.serial,
    )
    return with_clock(ledger, joined("\n", [*seen, added]))


def listing(bench: Path, *, as_json: bool) -> Output:
    """List all units, a line each."""
    ledger = open_ledger(bench)
    units = ledger.list_units()
    if as_json:
        return Data(json.dumps([asdict(unit) for unit in units], default=str, indent=2))
    if not units:
        return msg("no unit yet; add one with `soak unit add SERIAL --model MODEL`")
    latest = {line.job_id.rpartition("-")[0]: line for line in ledger.soaks()}
    head = (msg("tag"), msg("serial"), msg("model"), msg("state"), msg("last grade"))
    rows: list[Sequence[Said]] = [head]
    for unit in units:
        line = latest.get(unit.tag)
        grade = named(line.grade) if line else NOTHING_SAID
        rows.append((unit.tag, unit.serial, unit.model, named(unit.state), grade))
    return table(rows)


def card(bench: Path, unit: str, *, as_json: bool) -> Output:
    """Show everything about one unit in order of time, each entry with its number."""
    ledger = open_ledger(bench)
    entry = ledger.unit_card(unit)
    if as_json:
        return Data(json.dumps(asdict(entry), default=str, indent=2))
    of = entry.unit
    head = joined("  ", [of.tag, of.model, serial_of(of), named(of.state)])
    use = msg(
        "used by soaking: {starts} starts, {time} on, {written} written",
        starts=entry.wear.starts,
        time=Amount(entry.wear.powered_s, "s"),
        written=Amount(entry.wear.written_bytes, "B"),
    )
    said = [text for text in (ledger.mistyped(unit), *entry.warnings) if text]
    said += minds("", photograph_faults(bench, entry.unit.tag, ledger.photographs(unit)))
    said += minds("", soaks_beside_the_ledger(BenchFolder(bench), ledger, entry.unit.tag))
    reports = BenchFolder(bench).reports
    gone = [cleared(reports / line.soak_id) for line in ledger.soaks(entry.unit.tag)]
    said += [note.told for note in gone if note is not None]
    return joined("\n", [head, *said, table(map(_row, entry.lines)), use])


def _row(line: CardLine) -> Sequence[Said]:
    """Return a line of the card; one that no longer counts is crossed out by dashes."""
    text = joined("", ["--", line.text, "--"]) if line.withdrawn else line.text
    noted = joined("; ", [text, *line.notes])
    at = f"{line.on} {line.at}".strip()
    return str(line.entry or ""), at, named(line.kind), noted, line.by


def repair(bench: Path, unit: str, what: str, function: str, given: Mapping[str, str]) -> Message:
    """Record a repair; the function must be one of the model sheet."""
    ledger = open_ledger(bench)
    entry = ledger.find_unit(unit)
    sheet = check_function(bench, entry.model, function)
    done = ledger.record_repair(unit, what=what, function=function, **given)
    sentence = msg(
        "{tag}: {id} {what}; a soak must show {function} before it is ready",
        tag=entry.tag,
        id=str(done.id),
        what=done.what,
        function=done.function,
    )
    return with_clock(ledger, joined("\n", [sentence, *_nothing_shows(sheet, function)]))


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
        hint = (
            msg(" (did you mean {nearest}?)", nearest=nearest)
            if nearest
            else msg("; it has {functions}", functions=joined(", ", functions))
        )
        raise LedgerError(
            msg(
                "{model} has no function {function}{hint}",
                model=model,
                function=repr(function),
                hint=hint,
            )
        )
    return sheet


def _nothing_shows(sheet: ModelSheet, function: str) -> list[Message]:
    """Say that no check of the model sheet could show a repair; nothing if one can."""
    one = sheet.functions[function]
    if one.check:
        return []
    sentence = msg(
        "MIND: no check of the model sheet exercises {function}, so no soak can show this repair; "
        "give [functions.{function}] a check in the model sheet",
        function=function,
    )
    if one.port and sheet.ports[one.port].kind == "usb":
        sentence = msg(
            "{told}, or carry data through it by hand (soak carry pack, --port {port})",
            told=sentence,
            port=one.port,
        )
    return [sentence]


def details(bench: Path, unit: str) -> Message:
    """Write the file for what only people know of a unit's job; return where it is."""
    job = open_ledger(bench).current_job(unit)
    file = begin_details(BenchFolder(bench), job.job_id)
    sentence = msg(
        "fill it in; what it leaves out of the claim counts for soaks that begin after that, all "
        "else for the next soak report"
    )
    return joined("\n", [str(file), sentence])


def opened(bench: Path, unit: str, why: str, **given: str) -> Message:
    """Begin a new job; say which soaks no longer count, and which ran on past the opening."""
    ledger = open_ledger(bench)
    before = ledger.current_job(unit)
    job = ledger.opened(unit, why=why, **given)
    lines = [line for line in ledger.soaks(unit) if line.job_id == before.job_id]
    sentence = msg(
        "job {job} begins, opened {when}; soaks before count only against it",
        job=job.job_id,
        when=str(job.when),
    )
    past = [
        msg(
            "MIND: soak {soak} of job {before} ran on past that or still runs; nothing of it "
            "counts for {job}: soak again",
            soak=line.soak_id,
            before=before.job_id,
            job=job.job_id,
        )
        for line in lines
        if job.when is not None and (not line.ended or line.ended_after(job.when))
    ]
    return with_clock(ledger, joined("\n", [sentence, *past]))


def wiped(bench: Path, unit: str, **given: str) -> Message:
    """Record that data was removed."""
    ledger = open_ledger(bench)
    done = ledger.wiped(unit, **given)
    sentence = msg(
        "{unit}: data removed ({how}), verified ({verified}) by {by} on {on}",
        unit=unit,
        how=done.how,
        verified=done.verified,
        by=done.by,
        on=str(done.on),
    )
    return with_clock(ledger, sentence)


def sold(bench: Path, unit: str, where: str, given: Mapping[str, str], *, anyway: bool) -> Message:
    """Record a sale."""
    ledger = open_ledger(bench)
    shown = given["report"] or report_of_unit(BenchFolder(bench), ledger, unit)
    with insisting():
        sale = ledger.sold(unit, where=where, anyway=anyway, **{**given, "report": shown})
    sentence = msg("{unit}: sold on {on} ({where})", unit=unit, on=str(sale.on), where=sale.where)
    by_report = msg("and no report was made of it")
    if sale.report:
        by_report = msg("on report {report}", report=sale.report)
    although = msg("although {why}", why=sale.although) if sale.although else None
    return with_clock(ledger, joined(", ", [sentence, by_report, although]))


def back(bench: Path, unit: str, complaint: str, *, hazard: str, on: str, by: str) -> Message:
    """Record a come-back; its warnings come first."""
    ledger = open_ledger(bench)
    back = ledger.back(unit, complaint=complaint, hazard=hazard, on=on, by=by)
    card = ledger.unit_card(unit)
    sightings = [sighting.text for sighting in ledger.seen_before(card.unit.serial)]
    begins = msg("{tag}: job {job} begins", tag=card.unit.tag, job=card.job.job_id)
    return with_clock(ledger, joined("\n", [*back.warnings, *sightings, begins]))


def with_clock(ledger: Ledger, told: Message) -> Message:
    """Add to what was told that the computer's clock stands before the newest entry, if so."""
    doubt = ledger.clock_set_back()
    return joined("\n", [told, msg("MIND: {doubt}", doubt=doubt)]) if doubt else told


@contextmanager
def insisting() -> Iterator[None]:
    """Say how to insist at the command line."""
    try:
        yield
    except NeedsAnyway as fault:
        raise LedgerError(msg("{why} (add --anyway)", why=told_of(fault))) from None
