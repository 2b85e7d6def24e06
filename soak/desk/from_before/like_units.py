"""Other units of the same model: their soaks, and how long their starts take."""

import statistics
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from soak.derive.course import course_of
from soak.derive.heat import heat_reference_of
from soak.derive.starting.starts import FEWEST_OWN, ordinary_times_s
from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.errors import JournalError
from soak.frozen.references import Counts, HeatReference, StartTimes
from soak.frozen.unit import UnitStated
from soak.journal import open_evidence
from soak.judge.explain.pooled import counts_of
from soak.ledger.entries import SoakLine
from soak.ledger.ledger import Ledger

MOST_UNITS = 20
"""Only the newest so many are read: the journal of a night takes some 0.03 s."""


def soaks_of_like_units(
    bench: BenchFolder, ledger: Ledger, unit: UnitStated
) -> Iterator[tuple[str, SoakLine, Path]]:
    """Yield (tag, ledger's line, folder) of other units' sealed soaks, the newest first."""
    like = {other.tag for other in ledger.list_units() if other.model == unit.model} - {unit.tag}
    for line in reversed(ledger.soaks()):
        tag = line.job_id.rpartition("-")[0]
        folder = bench.reports / line.soak_id
        if tag in like and line.seal and (folder / JOURNAL).is_file():
            yield tag, line, folder


def start_times(
    bench: BenchFolder, ledger: Ledger, unit: UnitStated, *, simulated: bool
) -> tuple[StartTimes, ...]:
    """Return `start_times` of a header's references.

    One line a unit: the newest soak of each other unit of the model that was found ready, with the
    number and median of its ordinary starts. Real units are set beside real ones only.
    """
    by_model: dict[str, StartTimes] = {}
    for tag, line, folder in soaks_of_like_units(bench, ledger, unit):
        if len(by_model) == MOST_UNITS:
            break
        if tag not in by_model and line.grade.startswith("ready"):
            entry = _start_times(tag, folder, simulated=simulated)
            by_model |= {} if entry is None else {tag: entry}
    return tuple(by_model.values())


def _start_times(tag: str, folder: Path, *, simulated: bool) -> StartTimes | None:
    try:
        course = course_of(open_evidence(folder))
        times_s = ordinary_times_s(course.starts)
    except JournalError:
        return None  # `soak judge` says what is wrong with it; a reference may lack it
    if course.header.simulated != simulated or len(times_s) < FEWEST_OWN:
        return None
    median_s = round(statistics.median(times_s), 4)
    return StartTimes(
        soak_id=course.header.soak_id, tag=tag, starts=len(times_s), median_s=median_s
    )


MOST_REFERENCES = 20
"""Only the newest so many are read."""


def heat_references(
    bench: BenchFolder, ledger: Ledger, unit: UnitStated, *, simulated: bool
) -> tuple[HeatReference, ...]:
    """Return `heat_reference` of a header's references.

    A reference is the newest soak run with `--as-reference` of another unit of the model, unless it
    was found not good. Real units are compared with real ones, simulated with simulated ones.
    """
    references: list[HeatReference] = []
    taken: set[str] = set()
    for tag, line, folder in soaks_of_like_units(bench, ledger, unit):
        failed = not line.grade or "failed" in line.grade
        if failed or tag in taken or len(references) == MOST_REFERENCES:
            continue
        entry = _read(folder, simulated=simulated)
        if entry is not None:
            taken.add(tag)
            references.append(entry)
    return tuple(references)


def _read(folder: Path, *, simulated: bool) -> HeatReference | None:
    try:
        evidence = open_evidence(folder)
        stated = evidence.header.references.stated
        if evidence.header.simulated != simulated or not stated.as_reference:
            return None
        return heat_reference_of(course_of(evidence))
    except JournalError:
        return None  # `soak judge` says what is wrong with it; a reference may lack it


MOST_UNITS = 40
"""Only the newest so many are counted: reading the journal of a night takes some 0.03 s."""


def pool(
    bench: BenchFolder, ledger: Ledger, unit: UnitStated, *, simulated: bool
) -> tuple[Counts, ...]:
    """Return `pool` of a header's references, one line a unit.

    Parameters
    ----------
    unit : UnitStated
        As in the header.
    simulated : bool
        Real units are pooled with real ones only, simulated with simulated ones.
    """
    functions = _functions(unit)
    if not functions:
        return ()
    counts: list[Counts] = []
    for folder in _newest_of_each(bench, ledger, unit):
        if len(counts) == MOST_UNITS:
            break
        entry = _counted(folder, functions, simulated=simulated)
        if entry is not None:
            counts.append(entry)
    return tuple(counts)


def _newest_of_each(bench: BenchFolder, ledger: Ledger, unit: UnitStated) -> Iterator[Path]:
    """Yield the newest complete soak of each other unit of the model, the newest first."""
    seen: set[str] = set()
    for tag, _, folder in soaks_of_like_units(bench, ledger, unit):
        if tag not in seen:
            seen.add(tag)
            yield folder


def _counted(folder: Path, functions: frozenset[str], *, simulated: bool) -> Counts | None:
    try:
        course = course_of(open_evidence(folder))
    except JournalError:
        return None  # `soak judge` says what is wrong with it; a reference may lack it
    header = course.header
    if header.simulated != simulated or not functions & _functions(header.unit):
        return None
    return replace(counts_of(course), soak_id=header.soak_id)


def _functions(unit: UnitStated) -> frozenset[str]:
    return frozenset(repair.function for repair in unit.repairs if repair.function)
