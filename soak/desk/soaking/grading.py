"""After a soak: judge the whole job, put it into the ledger."""

from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from soak.derive.course import Course
from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.desk.from_before.jobs_before import not_in_ledger, of_this_job
from soak.desk.trust.belongings import opened, soak_faults
from soak.errors import ExitCode, JournalNotWritten, LedgerNotWritten
from soak.evidence import Evidence
from soak.journal import JournalEvidence, finish_sealing
from soak.journal.cleared import cleared
from soak.journal.kept import Fault
from soak.judge.grade import judge
from soak.judge.stricter import Known, OnRecord
from soak.ledger.amending.restated import Restated
from soak.ledger.ledger import Ledger
from soak.records import Header, Json
from soak.rules.core.verdict import Judgement
from soak.run.guard.log import check_log
from soak.words import NOTHING_SAID, Message, msg


@dataclass(frozen=True, slots=True)
class Graded:
    """The grade of a job, and the evidence it stands on.

    Attributes
    ----------
    soaks : sequence of Course
        Each with its header as the ledger has corrected it since.
    missing : sequence of str
        Earlier soaks of the job whose journals are gone.
    restated : Restated
        What of the newest soak's header was corrected since.
    not_as_recorded : mapping of str to sequence of Fault
        By soak what it kept and is not what was recorded; only soaks of which there is any.
    unkept : str
        Why the seal could not be finished or the ledger could not take the grade in; empty where
        both are done.
    """

    judgement: Judgement
    soaks: Sequence[Course]
    missing: Sequence[str]
    restated: Restated
    not_as_recorded: Mapping[str, Sequence[Fault]]
    unkept: str = ""


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
    LedgerError
        If a journal is not the one that the ledger took in.
    """
    newest = _read(bench, folder)
    header = newest.header
    unkept = [_keep(ledger, newest)]
    earlier, missing = others_of(bench, ledger, header)
    unkept += [_keep(ledger, evidence) for evidence in earlier]
    evidence = (*earlier, newest)
    soaks = [as_restated(ledger, own) for own in evidence]
    judgement = judge(soaks, script, on_record(ledger, header))
    if script is None:
        unkept.append(_keep(ledger, newest, judgement))
    why = next(filter(None, unkept), "")
    wrong = {one.header.soak_id: soak_faults(one) for one in evidence}
    return Graded(
        judgement,
        soaks,
        missing,
        restated=ledger.restated(header),
        not_as_recorded={soak_id: faults for soak_id, faults in wrong.items() if faults},
        unkept=why,
    )


def _keep(ledger: Ledger, evidence: JournalEvidence, judgement: Judgement | None = None) -> str:
    """Put a soak into the ledger; return why that cannot be, where only the medium is at fault."""
    if evidence.seal is not None and not evidence.file_sha256:
        return f"{evidence.path}: its sealing was cut short and could not be finished"
    try:
        ledger.ingest(evidence, judgement)
    except LedgerNotWritten as fault:
        return str(fault)
    return ""


def as_restated(ledger: Ledger, evidence: Evidence) -> Course:
    """Return a soak whose header states what stands now, and when it was opened meanwhile."""
    return Course(evidence, ledger.restated(evidence.header).header)


def others_of(
    bench: BenchFolder, ledger: Ledger, header: Header
) -> tuple[Sequence[JournalEvidence], Sequence[str]]:
    """Return the other soaks of a soak's job, and the ids of those whose journals are gone.

    Raises
    ------
    JournalError
        If one cannot be read, or a guard's log is not the one its seal names.
    """
    lines = [line for line in ledger.soaks(header.unit.tag) if line.job_id == header.job_id]
    others = [line.soak_id for line in lines if line.soak_id != header.soak_id]
    there = [soak_id for soak_id in others if (bench.reports / soak_id / JOURNAL).is_file()]
    cut_off = _cut_off(bench, ledger, header)
    read = [
        _read(bench, path) for path in [*(bench.reports / soak_id for soak_id in there), *cut_off]
    ]
    read.sort(key=lambda evidence: evidence.sessions()[0].utc)
    return read, [soak_id for soak_id in others if soak_id not in there]


def told_gone(reports: Path, soak_id: str) -> Message:
    """Say that a soak's journal is gone, and what to do: it may have been cleared."""
    gone = cleared(reports / soak_id)
    if gone is not None:
        return gone.told
    return msg("the journal of {soak} is gone; put its folder back", soak=soak_id)


def on_record(ledger: Ledger, header: Header) -> OnRecord:
    """Return what the ledger knows of a soak's job beside its journals."""
    lines = [line for line in ledger.soaks(header.unit.tag) if line.job_id == header.job_id]
    reports = BenchFolder(ledger.path.parent).reports
    known = [
        Known(line.soak_id, line.grade, gone.told if gone else NOTHING_SAID)
        for line in lines
        for gone in [cleared(reports / line.soak_id)]
    ]
    return OnRecord(known, ledger.withdrawn(header.job_id))


def _cut_off(bench: BenchFolder, ledger: Ledger, header: Header) -> list[Path]:
    """Return the soaks of the job that the ledger does not know, for they never came to a grade."""
    earlier = ledger.earlier(header.unit.tag)
    return [
        bench.reports / course.header.soak_id
        for course in not_in_ledger(bench, ledger)
        if of_this_job(course, header.job_id, earlier) and course.header.soak_id != header.soak_id
    ]


def _read(bench: BenchFolder, folder: Path) -> JournalEvidence:
    """Open a journal; a seal that a crash cut short is finished first, where that can be done."""
    evidence = opened(bench, folder)
    if evidence.seal is not None and not evidence.file_sha256:
        with suppress(JournalNotWritten):
            finish_sealing(folder)
            evidence = opened(bench, folder)
    if evidence.seal is not None:
        check_log(folder, evidence.seal.guard_log)
    return evidence


def exit_code(judgement: Judgement) -> ExitCode:
    """Return the exit code of a grade."""
    if judgement.ready:
        return ExitCode.AS_FAR_AS_TESTED if judgement.as_far_as else ExitCode.DONE
    return ExitCode.FAILED if judgement.because == "failed" else ExitCode.INCOMPLETE
