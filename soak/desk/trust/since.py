"""What the bench's own ledger knows of a report that it signed: newer ones, failures, sales."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from soak.desk.bench_folder import BenchFolder
from soak.desk.paper import issued
from soak.errors import ExitCode, LedgerError
from soak.judge.stricter import FAILED
from soak.ledger.amending.corrected import BACK, JOB, SOLD
from soak.ledger.entries import CardLine, SoakLine
from soak.ledger.ledger import Ledger
from soak.names import named
from soak.report.signing.particulars import Particulars
from soak.rules.core.verdict import is_ready
from soak.words import Day, Message, counted, msg


@dataclass(frozen=True, slots=True)
class Since:
    """One thing that the ledger knows; `code` is what it makes of a file that is whole."""

    words: Message
    code: ExitCode = ExitCode.DONE


def since(bench_path: Path, said: Particulars) -> Sequence[Since]:
    """Return what became of a report's unit since it was issued; nothing where there is no ledger.

    Raises
    ------
    LedgerError
        If the ledger cannot be read.
    """
    bench = BenchFolder(bench_path)
    if not said.unit or not bench.ledger.is_file():
        return ()
    ledger = Ledger(bench.ledger)
    try:
        tag = ledger.find_unit(said.unit).tag
    except LedgerError:
        tag = ""
    if tag != said.unit:
        lost = msg("the ledger of this bench knows no unit {tag}", tag=said.unit)
        return (Since(lost, ExitCode.INCOMPLETE),)
    if not said.report:
        return ()
    soaks = ledger.soaks(tag)
    at = _soak_of(bench, soaks, said.report)
    if at is None:
        lost = msg("this bench keeps no report of that number any more")
        return (Since(lost, ExitCode.INCOMPLETE),)
    entry = soaks[at].entry
    entries = [line for line in ledger.unit_card(tag).lines if not line.withdrawn]
    return (
        *_superseded(bench, soaks[at], said),
        *_soaked(soaks[at + 1 :], said),
        *(told for line in entries if line.entry > entry for told in _happened(line, said)),
    )


def _soak_of(bench: BenchFolder, soaks: Sequence[SoakLine], report: str) -> int | None:
    """Return the place of the soak in whose folder a report lies, in whatever edition."""
    for at, line in enumerate(soaks):
        editions = issued.editions(bench.reports / line.soak_id)
        if any(data.get("report_id") == report for data in editions):
            return at
    return None


def _superseded(bench: BenchFolder, line: SoakLine, said: Particulars) -> Iterator[Since]:
    current = Particulars.of_data(issued.read(bench.reports / line.soak_id))
    if current.report != said.report:
        words = msg(
            "superseded by edition {edition}, of {issued}: {grade}",
            edition=current.edition,
            issued=Day(current.issued),
            grade=named(current.grade),
        )
        yield Since(words, _weighs(current.grade, said))


def _soaked(later: Sequence[SoakLine], said: Particulars) -> Iterator[Since]:
    failed = [line for line in later if line.grade == FAILED]
    for line in failed:
        words = msg(
            "FAILED SINCE: soak {soak} of {on}: {reason}",
            soak=line.soak_id,
            on=Day(line.on.isoformat()),
            reason=line.reason,
        )
        yield Since(words, _weighs(FAILED, said))
    if later and not failed:
        last = later[-1]
        words = counted(
            len(later),
            "soaked once since: soak {soak} of {on}: {grade}",
            "soaked {count} times since, the last time by soak {soak} of {on}: {grade}",
            soak=last.soak_id,
            on=Day(last.on.isoformat()),
            grade=named(last.grade) if last.grade else msg("not judged yet"),
        )
        yield Since(words, ExitCode.INCOMPLETE)


def _weighs(now: str, said: Particulars) -> ExitCode:
    """Return what a newer grade makes of an older report: a failure denies a *ready*."""
    denied = now == FAILED and is_ready(said.grade)
    return ExitCode.FAILED if denied else ExitCode.INCOMPLETE


def _happened(line: CardLine, said: Particulars) -> Iterator[Since]:
    on = Day(line.on.isoformat())
    if line.kind == SOLD:
        report = str(line.detail.get("report", ""))
        if report.startswith(said.report):
            yield Since(msg("sold as this report says, on {on}", on=on))
        elif report:
            yield Since(msg("sold on {on} by another report: {report}", on=on, report=report))
        else:
            yield Since(msg("sold on {on}, no report named", on=on))
    elif line.kind == BACK:
        words = msg("came back on {on}: {complaint}", on=on, complaint=line.text)
        yield Since(words, ExitCode.INCOMPLETE)
    elif line.kind == JOB and not line.detail.get("begun_by"):
        words = msg("a new job began on {on}, so this one's grade counts no more", on=on)
        yield Since(words, ExitCode.INCOMPLETE)
