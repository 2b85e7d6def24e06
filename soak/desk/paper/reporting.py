"""Write the report of a job: what the journal does not know comes from `bench.toml`."""

from contextlib import ExitStack
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from soak import __version__
from soak.desk.bench_card import own_language, read_bench
from soak.desk.bench_folder import BenchFolder
from soak.desk.paper import issued as issued_reports
from soak.desk.paper.details import Details, begin_details, details_file, read_details
from soak.desk.paper.jpeg import to_jpeg
from soak.desk.photographs import shown
from soak.desk.proof.challenges import challenges_of
from soak.desk.soaking.grading import Graded, grade_job, told_gone
from soak.desk.soaking.in_use import in_use
from soak.desk.trust.belongings import minds, told_of_soak
from soak.desk.trust.keys import bench_key
from soak.errors import ExitCode
from soak.frozen.references import EarlierSoak
from soak.frozen.unit import UnitStated
from soak.journal import open_evidence
from soak.ledger.ledger import Ledger
from soak.report.contents.context import Amendment, Hazard, Opening, ReportContext
from soak.report.contents.sheet import OF_AN_EDITION, Sheet, gather, renumbered
from soak.report.model import Report
from soak.report.output.files import Outputs, ReportFiles, write_report
from soak.report.output.listing import Proof, plain_proof
from soak.report.signing.sign import BenchKey
from soak.report.signing.token import proof
from soak.words import Message, joined, lines_of, msg


def write_reports(
    bench: BenchFolder,
    ledger: Ledger,
    graded: Graded,
    folder: Path,
    *,
    issued: datetime | None = None,
    claim: str = "",
    how: Outputs | None = None,
    to: Path | None = None,
) -> ReportFiles:
    """Write the report of a job into the soak's folder: pages and data, or all that `how` asks.

    What was issued before and says the same keeps its edition, its date and so its bytes; what
    says something else is a new edition, and the data of the old one are kept. Written `to`
    another folder, it changes nothing in the soak's own.
    """
    with ExitStack() as alone:
        if to is None:  # two at once would both be the next edition
            what = {f"report {folder.name}": str(folder)}
            alone.enter_context(in_use(bench.reports, what, "soak report", waits=True))
        details = read_details(bench, graded.soaks[-1].header.job_id)
        key = bench_key(bench.path)
        context = _context(bench, ledger, graded, details=details, issued=issued, claim=claim)
        context = replace(context, signed_by=key.fingerprint if key else "")
        sheet = _edition(gather(graded.judgement, graded.soaks, context), folder, keeps=to is None)
        how = how or Outputs(language=own_language(bench.path) or "en")
        how = replace(how, show_serial=details.show_serial)
        address = read_bench(bench).address_of(graded.soaks[-1].header.unit.tag)
        how = replace(how, key=key, prove=lambda report: _proof(report, key, address))
        return write_report(sheet, to or folder, how)


def _proof(report: Report, key: BenchKey | None, address: str) -> Proof:
    return plain_proof(report, address) if key is None else proof(report, key, address)


@dataclass(frozen=True, slots=True)
class Reported:
    """Where the report lies and what to know of it; `INCOMPLETE` where evidence is not whole."""

    text: Message
    code: ExitCode


def report_soak(
    bench_path: Path, soak: str, claim: str, how: Outputs, to: Path | None = None
) -> Reported:
    """Write everything of the report of a job.

    A language that `how` leaves empty is the bench's own, else English.
    """
    bench = BenchFolder(bench_path)
    ledger = Ledger(bench.ledger)
    folder = bench.find_soak(soak)
    graded = grade_job(bench, ledger, folder)
    language = how.language or own_language(bench_path) or "en"
    how = replace(how, everything=True, to_jpeg=to_jpeg, language=language)
    files = write_reports(bench, ledger, graded, folder, claim=claim, how=how, to=to)
    paths = (files.bench_page, files.buyer_page, files.data, *files.others.values())
    missing = [
        msg("MIND: {what}", what=told_gone(bench.reports, soak_id)) for soak_id in graded.missing
    ]
    if graded.unkept:
        missing.append(msg("MIND: the grade was not recorded. {why}", why=graded.unkept))
    wrong = [
        line
        for soak_id, faults in graded.not_as_recorded.items()
        for line in minds(soak_id, faults)
    ]
    text = joined("\n", [*map(str, paths), *missing, *wrong, *files.told])
    return Reported(text, ExitCode.DONE if files.whole and not wrong else ExitCode.INCOMPLETE)


def details_to_fill_in(bench_path: Path, soak: str) -> Message:
    """Write the file that takes what only people know of the job; return where it is."""
    bench = BenchFolder(bench_path)
    header = open_evidence(bench.find_soak(soak)).header
    file = begin_details(bench, header.job_id)
    return lines_of([str(file), msg("fill it in, then run soak report again")])


def usual_claim(unit: UnitStated) -> str:
    """Return the word that the ledger bears out: nothing is called repaired without a repair."""
    return "repaired and tested" if unit.repairs else "tested"


def _context(
    bench: BenchFolder,
    ledger: Ledger,
    graded: Graded,
    details: Details,
    issued: datetime | None,
    claim: str,
) -> ReportContext:
    card = read_bench(bench)
    header = graded.soaks[-1].header
    lines = [line for line in ledger.soaks(header.unit.tag) if line.job_id == header.job_id]
    file = details_file(bench, header.job_id)
    return ReportContext(
        bench=card.name,
        address=card.address,
        location=card.location,
        authorised_by=card.authorised_by,
        issued_utc=(issued or datetime.now(UTC)).strftime("%Y-%m-%dT%H:%M:%SZ"),
        version=__version__,
        claim=claim or details.claim or usual_claim(header.unit),
        left_out=details.left_out,
        safety_test=details.tested(),
        customer=details.customer,
        received_on=details.received_on,
        condition=details.condition,
        year_made=details.year_made,
        recall_checked_on=details.recall_checked_on,
        recall_result=details.recall_result,
        known_defects=details.known_defects,
        deviations=details.deviations,
        show_serial=details.show_serial,
        grade_keeps_days=card.grade_keeps_days,
        earlier_soaks=[
            EarlierSoak(
                soak_id=line.soak_id,
                script=line.script,
                grade=line.grade,
                on=line.on.isoformat(),
            )
            for line in lines
            if line.soak_id != header.soak_id
        ],
        challenges=challenges_of(header.references),
        calibrations=card.calibrations,
        amendments=_amendments(graded),
        openings=[
            Opening(opening.on, opening.why, opening.withdrawn)
            for opening in graded.restated.opened
        ],
        hazards=_hazards(ledger, header.unit.tag),
        not_as_recorded=[
            told_of_soak(soak_id, faults) for soak_id, faults in graded.not_as_recorded.items()
        ],
        photographs=shown(bench.path, ledger, header.unit.tag, details.photographs, file),
    )


def _amendments(graded: Graded) -> list[Amendment]:
    return [
        Amendment(
            amended.kind,
            amended.what,
            amended.now,
            why=amended.why,
            by=amended.by,
            on=amended.on,
        )
        for amended in graded.restated.amended
    ]


def _hazards(ledger: Ledger, tag: str) -> list[Hazard]:
    return [
        Hazard(
            hazard.hazard,
            hazard.complaint,
            hazard.on.isoformat(),
            found=hazard.found,
            done=hazard.done,
        )
        for hazard in ledger.own_hazards(tag)
    ]


def _edition(sheet: Sheet, folder: Path, *, keeps: bool) -> Sheet:
    """Give a report its edition: that of the same words issued before, or the next."""
    before = issued_reports.read(folder)
    said = sheet.report.model_dump(mode="json")
    if not before or not isinstance(before.get("edition"), int):
        return sheet
    if all(before.get(key) == said[key] for key in said if key not in OF_AN_EDITION):
        return renumbered(sheet, before["edition"], str(before["issued_utc"]))
    if keeps:
        issued_reports.keep(folder, before["edition"])
    return renumbered(sheet, before["edition"] + 1, sheet.report.issued_utc)
