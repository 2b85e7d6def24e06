"""After a soak: judge the whole job, put it into the ledger."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.desk.jobs_before import not_in_ledger, of_this_job
from soak.errors import ExitCode
from soak.journal import JournalEvidence, finish_sealing, open_evidence
from soak.judge.grade import judge
from soak.judge.stricter import Known, OnRecord
from soak.ledger.ledger import Ledger
from soak.records import Header, Json
from soak.rules.core.verdict import Judgement
from soak.run.guard_log import check_log


@dataclass(frozen=True, slots=True)
class Graded:
    """The grade of a job, and the evidence it stands on.

    Attributes
    ----------
    missing : sequence of str
        Earlier soaks of the job whose journals are gone.
    """

    judgement: Judgement
    soaks: Sequence[JournalEvidence]
    missing: Sequence[str]


def grade_job(
    bench: BenchFolder, ledger: Ledger, folder: Path, script: Json | None = None
) -> Graded:
    """Judge the job that the soak in `folder` belongs to, with all its soaks.

    Parameters
    ----------
    script : Json or None
        Another resolved script, to judge by it too; such a grade is not put into the ledger.

    Raises
    ------
    JournalError
        If a journal cannot be read, or a guard's log is not the one its seal names.
    """
    newest = _read(folder)
    ledger.ingest(newest)
    header = newest.header
    lines = [line for line in ledger.soaks(header.unit["tag"]) if line.job_id == header.job_id]
    others = [line.soak_id for line in lines if line.soak_id != header.soak_id]
    there = [soak_id for soak_id in others if (bench.reports / soak_id / JOURNAL).is_file()]
    missing = [soak_id for soak_id in others if soak_id not in there]
    cut_off = _cut_off(bench, ledger, header)
    for folder_of_one in cut_off:
        ledger.ingest(_read(folder_of_one))
    earlier = [_read(one) for one in [*(bench.reports / soak_id for soak_id in there), *cut_off]]
    soaks = [*sorted(earlier, key=lambda one: one.sessions()[0].utc), newest]
    known = [Known(line.soak_id, line.grade) for line in lines]
    told = OnRecord(known, ledger.withdrawn(header.job_id))
    judgement = judge(soaks, script, told)
    if script is not None:
        return Graded(judgement, soaks, missing)
    ledger.ingest(newest, judgement)
    return Graded(judgement, soaks, missing)


def _cut_off(bench: BenchFolder, ledger: Ledger, header: Header) -> list[Path]:
    """Return the soaks of the job that the ledger does not know, for they never came to a grade."""
    earlier = ledger.earlier(header.unit["tag"])
    return [
        bench.reports / course.header.soak_id
        for course in not_in_ledger(bench, ledger)
        if of_this_job(course, header.job_id, earlier)
    ]


def _read(folder: Path) -> JournalEvidence:
    """Open a journal; a seal that a crash cut short is finished first."""
    evidence = open_evidence(folder)
    if evidence.seal is not None and not evidence.file_sha256:
        finish_sealing(folder)
        evidence = open_evidence(folder)
    if evidence.seal is not None:
        check_log(folder, evidence.seal.guard_log)
    return evidence


def exit_code(judgement: Judgement) -> ExitCode:
    """Return the exit code of a grade."""
    if judgement.ready:
        return ExitCode.DONE
    return ExitCode.FAILED if judgement.because == "failed" else ExitCode.INCOMPLETE
