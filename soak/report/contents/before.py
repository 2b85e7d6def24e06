"""The jobs before on a page: that a unit was opened again hides nothing of what it did before."""

from soak.derive.jobs_before import JobBefore, SoakBefore
from soak.frozen.sheet import ModelSheet
from soak.frozen.unit import RepairStated
from soak.judge.before.demands import words_of
from soak.judge.before.outlived import Before
from soak.judge.before.words import lines, seen, unread_words
from soak.names import named
from soak.report import model
from soak.report.contents.given import day
from soak.words import NOTHING_SAID, Message, counted, joined, msg, paragraph


def in_one_line(before: Before) -> Message:
    """Say in how many jobs the unit was soaked before, and how what failed then stands now."""
    soaked = [job for job in before.jobs if job.soaks]
    if not soaked:
        return NOTHING_SAID
    head = counted(
        len(soaked),
        "It was soaked in 1 job before this one.",
        "It was soaked in {count} jobs before this one.",
    )
    failed = any("failed" in soak.grade for job in soaked for soak in job.soaks)
    sentences = lines(before)
    if failed and not sentences:
        sentences = [msg("What failed then was outlived since.")]
    return paragraph(head, *sentences)


def list_jobs(before: Before, sheet: ModelSheet) -> tuple[model.JobBefore, ...]:
    """List the jobs before, each with its repairs and what its soaks saw."""
    return tuple(_job(job, sheet) for job in before.jobs)


def _job(job: JobBefore, sheet: ModelSheet) -> model.JobBefore:
    return model.JobBefore(
        job_id=job.job_id,
        begun=day(job.begun, NOTHING_SAID),
        repairs=tuple(_repair(repair, sheet) for repair in job.repairs),
        soaks=tuple(map(_soak, job.soaks)),
        came_back=job.came_back,
    )


def _repair(one: RepairStated, sheet: ModelSheet) -> Message:
    function = sheet.function_text(one.function)
    kind = named(one.kind) if one.kind else None
    return msg("repaired: {what}", what=joined(", ", [one.what, function, kind]))


def _soak(soak: SoakBefore) -> model.SoakBefore:
    saw = [seen(failure) for failure in soak.failures if failure.events]
    saw += [
        msg("not met: {demand}", demand=words_of(demand))
        for demand in soak.demands
        if not demand.met
    ]
    if soak.unread:
        saw.append(unread_words(soak.unread))
    if soak.unknown:
        saw.append(msg("not in the ledger"))
    return model.SoakBefore(
        soak_id=soak.soak_id,
        script=named(soak.script),
        on=day(soak.on, NOTHING_SAID),
        grade=named(soak.grade) if soak.grade else msg("not graded"),
        saw=joined("; ", saw),
    )
