"""What was typed wrong in the ledger, and hazards that turned out to be something."""

from collections.abc import Mapping
from pathlib import Path

from soak.desk.bench_folder import BenchFolder
from soak.desk.soaking.grading import grade_job
from soak.desk.units import check_function, insisting, open_ledger, with_clock
from soak.errors import SoakError
from soak.ledger.amending.corrections import Done
from soak.ledger.ledger import Ledger
from soak.names import named
from soak.words import Message, joined, msg


def withdraw(bench: Path, unit: str, entry: int, *, because: str, by: str) -> Message:
    """Withdraw an entry of a unit's card."""
    ledger = open_ledger(bench)
    done = ledger.withdraw_entry(unit, entry, because=because, by=by)
    return _told(bench, ledger, unit, done=done, how=msg("withdrawn"))


def correct(
    bench: Path,
    unit: str,
    entry: int,
    new: Mapping[str, str],
    *,
    on: str,
    because: str,
    by: str,
    anyway: bool,
) -> Message:
    """Correct an entry of a unit's card; what is empty in `new` stays as it was."""
    ledger = open_ledger(bench)
    given = {name: text for name, text in new.items() if text}
    if "function" in given:
        check_function(bench, ledger.find_unit(unit).model, given["function"])
    with insisting():
        done = ledger.correct_entry(
            unit, entry, given, on=on, because=because, by=by, anyway=anyway
        )
    return _told(bench, ledger, unit, done=done, how=msg("corrected"))


def settle(bench: Path, unit: str, *, found: str, done: str, by: str, on: str) -> Message:
    """Say what the open hazards of a unit turned out to be, and what was done."""
    ledger = open_ledger(bench)
    settled = ledger.settle_hazard(unit, found=found, done=done, by=by, on=on)
    return with_clock(ledger, joined("\n", [hazard.text for hazard in settled]))


def _told(bench: Path, ledger: Ledger, unit: str, done: Done, how: Message) -> Message:
    entry = ledger.find_unit(unit)
    job = ledger.current_job(entry.tag).job_id
    line = msg(
        "{tag}: entry {of} ({what}) is {how} by entry {entry}; it is {state}, serial {serial}, "
        "job {job}",
        tag=entry.tag,
        of=done.of,
        what=named(done.what),
        how=how,
        entry=done.entry,
        state=named(entry.state),
        serial=entry.serial or msg("none"),
        job=job,
    )
    again = _judged_anew(bench, ledger, done.soak_id) if done.soak_id else None
    return with_clock(ledger, joined("\n", [line, again]))


def _judged_anew(bench_path: Path, ledger: Ledger, soak_id: str) -> Message:
    """Judge what stood on the old words; without its journal it stays unjudged."""
    bench = BenchFolder(bench_path)
    try:
        judgement = grade_job(bench, ledger, bench.find_soak(soak_id)).judgement
    except SoakError as fault:
        return msg(
            "MIND: soak {soak} cannot be judged anew and counts as not judged: {why}",
            soak=soak_id,
            why=fault.told,
        )
    anew = msg(
        "soak {soak} judged anew: {grade}: {reason}",
        soak=soak_id,
        grade=named(judgement.grade),
        reason=judgement.reason,
    )
    report = msg("its report is to be made anew: soak report {soak}", soak=soak_id)
    return joined("\n", [anew, report])
