"""Other units of the same model: their soaks, and how long their starts take."""

import statistics
from collections.abc import Iterator
from pathlib import Path

from soak.derive.course import course_of
from soak.derive.starts import FEWEST_OWN, ordinary_times_s
from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.errors import JournalError
from soak.journal import open_evidence
from soak.ledger.entries import SoakLine
from soak.ledger.ledger import Ledger
from soak.records import Json

MOST_UNITS = 20
"""Only the newest so many are read: the journal of a night takes some 0.03 s."""


def soaks_of_like_units(
    bench: BenchFolder, ledger: Ledger, unit: Json
) -> Iterator[tuple[str, SoakLine, Path]]:
    """Yield (tag, ledger's line, folder) of other units' sealed soaks, the newest first."""
    like = {one.tag for one in ledger.list_units() if one.model == unit["model"]} - {unit["tag"]}
    for line in reversed(ledger.soaks()):
        tag = line.job_id.rpartition("-")[0]
        folder = bench.reports / line.soak_id
        if tag in like and line.seal and (folder / JOURNAL).is_file():
            yield tag, line, folder


def start_times(
    bench: BenchFolder, ledger: Ledger, unit: Json, *, simulated: bool
) -> dict[str, list[Json]]:
    """Return the entry `start_times` of a header's references; empty if there is none.

    One line a unit: the newest soak of each other unit of the model that was found ready, with the
    number and median of its ordinary starts. Real units are set beside real ones only.
    """
    found: dict[str, Json] = {}
    for tag, line, folder in soaks_of_like_units(bench, ledger, unit):
        if len(found) == MOST_UNITS:
            break
        if tag not in found and line.grade.startswith("ready"):
            entry = _start_times(tag, folder, simulated=simulated)
            found |= {} if entry is None else {tag: entry}
    return {"start_times": list(found.values())} if found else {}


def _start_times(tag: str, folder: Path, *, simulated: bool) -> Json | None:
    try:
        course = course_of(open_evidence(folder))
        times_s = ordinary_times_s(course.starts)
    except JournalError:
        return None  # `soak judge` says what is wrong with it; a reference may lack it
    if course.header.simulated != simulated or len(times_s) < FEWEST_OWN:
        return None
    median_s = round(statistics.median(times_s), 4)
    return {
        "soak_id": course.header.soak_id,
        "tag": tag,
        "starts": len(times_s),
        "median_s": median_s,
    }
