"""Whether a channel ran another unit since a unit went dead on it and nobody knew what failed."""

from collections.abc import Iterator

from soak.derive.course import Course, course_of
from soak.derive.seeing.alive import seen_alive_by
from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.errors import JournalError
from soak.frozen.references import ChannelWorked
from soak.journal import open_evidence
from soak.judge.unit_or_switch import switch_of
from soak.ledger.entries import SoakLine
from soak.ledger.ledger import Ledger

MOST_SOAKS = 20
"""Only the newest so many soaks of other units are read."""


def channel_worked(
    bench: BenchFolder, ledger: Ledger, job_id: str, *, simulated: bool
) -> tuple[ChannelWorked, ...]:
    """Return `switch_worked` of a header's references.

    For each soak of the job in which the unit went dead and nothing tells whether it had power, the
    newest later soak of another unit that ran on the same channel.
    """
    lines = list(ledger.soaks())
    dead = [
        course
        for line, course in _read(bench, [of_job for of_job in lines if of_job.job_id == job_id])
        if course.gone_dead is not None
    ]
    if not dead:
        return ()
    tag = job_id.rpartition("-")[0]
    others = [
        soak_line
        for soak_line in lines
        if soak_line.job_id.rpartition("-")[0] != tag and soak_line.seal
    ]
    good = [
        (line, course)
        for line, course in _read(bench, others[-MOST_SOAKS:])
        if course.header.simulated == simulated and _ran(course)
    ]
    workings = [
        ChannelWorked(
            after=silence.header.soak_id, soak_id=line.soak_id, tag=course.header.unit.tag
        )
        for silence in dead
        for line, course in good
        if switch_of(course.header) == switch_of(silence.header)
        and line.began_utc > silence.sessions()[-1].utc
    ]
    newest = {worked.after: worked for worked in workings}
    return tuple(newest.values())


def _read(bench: BenchFolder, lines: list[SoakLine]) -> Iterator[tuple[SoakLine, Course]]:
    for line in lines:
        folder = bench.reports / line.soak_id
        if (folder / JOURNAL).is_file():
            try:
                yield line, course_of(open_evidence(folder))
            except JournalError:
                continue  # `soak judge` says what is wrong with it; a reference may lack it


def _ran(course: Course) -> bool:
    return course.gone_dead is None and bool(set(seen_alive_by(course)) - {"switch"})
