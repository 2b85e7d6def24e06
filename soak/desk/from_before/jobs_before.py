"""What the jobs before saw of a unit, read from their journals for a new soak's header."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime

from soak.derive.course import Course, course_of
from soak.derive.jobs_before import MISSING, JobBefore, SoakBefore, jobs_before
from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.errors import JournalError
from soak.frozen.unit import UnitStated
from soak.journal import open_evidence
from soak.journal.cleared import cleared
from soak.journal.kept import Fault
from soak.judge.before.demands import only_needed
from soak.judge.before.saw import Measures, measures_of, saw
from soak.ledger.entries import SoakLine
from soak.ledger.jobs import INTAKE
from soak.ledger.ledger import Ledger
from soak.ledger.returning.before import Earlier, EarlierJob
from soak.ledger.returning.for_header import repair_stated
from soak.ledger.returning.likeness import one_unit
from soak.records import Header
from soak.words import Message, message_of, msg

_AT_THE_END = float(2**53 - 1)
"""Place of a soak of a job that the ledger does not know: after all that it does."""


@dataclass(frozen=True, slots=True)
class Found:
    """What there is of one soak before.

    Attributes
    ----------
    job_id : str
    told : SoakBefore
        As the ledger has it, or as far as its journal's header says.
    course : Course or None
        Its journal; None if it could not be read.
    """

    job_id: str
    told: SoakBefore
    course: Course | None


def seen_by_jobs_before(
    bench: BenchFolder, ledger: Ledger, unit: UnitStated, job_id: str, *, simulated: bool
) -> list[JobBefore]:
    """Return what `jobs_before` of a header's references keeps.

    A soak whose journal is gone is taken from the header of a later one that had read it; else it
    stays as the ledger has it. What lies among the reports and the ledger does not know is told
    too. Real soaks say nothing of a simulated unit, nor simulated ones of a real unit.
    """
    earlier = ledger.earlier(unit.tag)
    soaks = [soak for job in earlier.jobs for soak in _in_ledger(bench, job, simulated=simulated)]
    soaks += _unknown(bench, ledger, earlier, unit=unit, job_id=job_id, simulated=simulated)
    copies = _copies(bench, ledger, unit.tag, soaks)
    by = Measures()
    for listed in soaks:
        if listed.course is not None:
            by = by.stricter(measures_of(listed.course))
    read = [_read(soak, by, copies) for soak in soaks]
    return _jobs(earlier, soaks, only_needed(read))


def to_mind(jobs: Sequence[JobBefore]) -> list[Message]:
    """Return what the operator must hear of the journals of the jobs before."""
    lines: list[Message] = []
    for job in jobs:
        for soak in job.soaks:
            if soak.unread:
                why = message_of(soak.unread)
                lines.append(msg("soak {soak} of a job before: {why}", soak=soak.soak_id, why=why))
            if soak.unknown:
                lines.append(
                    msg(
                        "soak {soak} of this unit lies in reports/ and the ledger does not know "
                        "it; what it saw counts",
                        soak=soak.soak_id,
                    )
                )
    return lines


def _in_ledger(bench: BenchFolder, job: EarlierJob, *, simulated: bool) -> Iterator[Found]:
    for line in job.soaks:
        if line.simulated == simulated:
            yield _of_line(bench, job, line)


def _of_line(bench: BenchFolder, job: EarlierJob, line: SoakLine) -> Found:
    before = SoakBefore(
        soak_id=line.soak_id,
        script=line.script,
        on=line.on.isoformat(),
        grade=line.grade,
        reason=line.reason,
        at=float(line.entry),
        intake=line.script == INTAKE,
    )
    folder = bench.reports / line.soak_id
    if not (folder / JOURNAL).is_file():
        gone = cleared(folder)
        return Found(job.job_id, replace(before, unread=str(gone.told) if gone else MISSING), None)
    try:
        course = course_of(open_evidence(folder))
        if line.seal and course.file_sha256 != line.seal:
            raise JournalError(msg("it is not the journal that was taken in: its seal is another"))
        measures_of(course)
    except JournalError as fault:
        return Found(job.job_id, replace(before, unread=str(fault)), None)
    return Found(job.job_id, before, course)


def not_in_ledger(bench: BenchFolder, ledger: Ledger) -> Iterator[Course]:
    """Yield the soaks among the reports that the ledger does not know, cut off or put back."""
    known = {line.soak_id for line in ledger.soaks()}
    for soak_id in bench.soaks():
        if soak_id in known:
            continue
        try:
            course = course_of(open_evidence(bench.reports / soak_id))
            measures_of(course)
        except JournalError:
            continue  # whose it is cannot be read
        if course.sessions():
            yield course


def soaks_beside_the_ledger(bench: BenchFolder, ledger: Ledger, tag: str) -> list[Fault]:
    """Return the soaks of a unit that lie among the reports and that its ledger does not know."""
    return [
        Fault(
            course.header.soak_id,
            msg("lies in reports/ and the ledger does not know it")
            if course.seal
            else msg("was cut off or still runs, and has no grade in the ledger"),
        )
        for course in not_in_ledger(bench, ledger)
        if course.header.unit.tag.lower() == tag.lower()
    ]


def of_this_job(course: Course, job_id: str, earlier: Earlier) -> bool:
    """Tell whether a soak that the ledger does not know is of the job under way.

    A ledger that was put back may give a new job an old one's name, so the time decides too.
    """
    began = datetime.fromisoformat(course.sessions()[0].utc)
    return course.header.job_id == job_id and began >= datetime.fromisoformat(earlier.since_utc)


def _unknown(
    bench: BenchFolder,
    ledger: Ledger,
    earlier: Earlier,
    unit: UnitStated,
    job_id: str,
    *,
    simulated: bool,
) -> Iterator[Found]:
    """Yield the soaks of this unit that the ledger does not know; those of its job are graded."""
    for course in not_in_ledger(bench, ledger):
        header = course.header
        own = of_this_job(course, job_id, earlier)
        if own or header.simulated != simulated or not _of_unit(header, earlier.tags, unit):
            continue
        before = SoakBefore(
            soak_id=header.soak_id,
            script=header.script.name,
            on=course.sessions()[0].utc[:10],
            at=_at_end_of(header.job_id, earlier),
            intake=header.references.intake,
            unknown=True,
        )
        yield Found(header.job_id, before, course)


def _of_unit(header: Header, tags: Sequence[str], unit: UnitStated) -> bool:
    its = header.unit.serial
    own = unit.serial
    return header.unit.tag in tags or one_unit(its, own)


def _at_end_of(job_id: str, earlier: Earlier) -> float:
    """Return the place just before the next job of the tag began: before the repairs in that."""
    own = next((job for job in earlier.jobs if job.job_id == job_id), None)
    if own is None:
        return _AT_THE_END
    later = [job.entry for job in earlier.jobs if job.tag == own.tag and job.entry > own.entry]
    if own.tag == earlier.tags[0]:
        later.append(earlier.entry)
    return min(later, default=_AT_THE_END) - 0.5


def _copies(
    bench: BenchFolder, ledger: Ledger, tag: str, found: Sequence[Found]
) -> dict[str, SoakBefore]:
    """Return what headers of later soaks say of soaks whose own journals cannot be read."""
    if all(soak.course is not None for soak in found):
        return {}
    headers = [soak.course.header for soak in found if soak.course is not None]
    for line in ledger.soaks(tag):  # those of the job under way
        with suppress(JournalError):
            headers.append(open_evidence(bench.reports / line.soak_id).header)
    copies: dict[str, SoakBefore] = {}
    for header in headers:
        with suppress(JournalError):
            read = [soak for job in jobs_before(header) for soak in job.soaks if not soak.unread]
            copies |= {soak.soak_id: soak for soak in read}
    return copies


def _read(one: Found, by: Measures, copies: Mapping[str, SoakBefore]) -> SoakBefore:
    if one.course is None:
        copy = copies.get(one.told.soak_id)
        if copy is None:
            return one.told
        return replace(one.told, unread="", failures=copy.failures, demands=copy.demands)
    try:
        seen = saw(one.course, by)
    except JournalError as fault:
        return replace(one.told, unread=str(fault))
    return replace(one.told, failures=seen.failures, demands=seen.demands)


def _jobs(earlier: Earlier, found: Sequence[Found], read: Sequence[SoakBefore]) -> list[JobBefore]:
    """Put the soaks to their jobs; those of a job that the ledger does not know come last."""
    soaks: dict[str, list[SoakBefore]] = {job.job_id: [] for job in earlier.jobs}
    for one, before in zip(found, read, strict=True):
        soaks.setdefault(one.job_id, []).append(before)
    known = {job.job_id: job for job in earlier.jobs}
    return [
        _job(known[job_id], own)
        if job_id in known
        else JobBefore(job_id=job_id, tag=job_id.rpartition("-")[0], soaks=tuple(own))
        for job_id, own in soaks.items()
    ]


def _job(job: EarlierJob, soaks: Sequence[SoakBefore]) -> JobBefore:
    return JobBefore(
        job_id=job.job_id,
        tag=job.tag,
        why=job.why,
        begun=job.begun.isoformat(),
        repairs=tuple(map(repair_stated, job.repairs)),
        soaks=tuple(soaks),
        came_back=job.came_back,
    )
