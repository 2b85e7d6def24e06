"""Known-good units of the same model, read into a soak's header before anything is measured."""

from pathlib import Path

from soak.derive.course import course_of
from soak.derive.heat_reference import heat_reference_of
from soak.desk.bench_folder import BenchFolder
from soak.desk.from_before.like_units import soaks_of_like_units
from soak.errors import JournalError
from soak.journal import open_evidence
from soak.ledger.ledger import Ledger
from soak.records import Json

MOST_REFERENCES = 20
"""Only the newest so many are read."""


def heat_references(
    bench: BenchFolder, ledger: Ledger, unit: Json, *, simulated: bool
) -> dict[str, list[Json]]:
    """Return the entry `heat_reference` of a header's references; empty if there is none.

    A reference is the newest soak run with `--as-reference` of another unit of the model, unless it
    was found not good. Real units are compared with real ones, simulated with simulated ones.
    """
    found: list[Json] = []
    taken: set[str] = set()
    for tag, line, folder in soaks_of_like_units(bench, ledger, unit):
        failed = not line.grade or "failed" in line.grade
        if failed or tag in taken or len(found) == MOST_REFERENCES:
            continue
        entry = _read(folder, simulated=simulated)
        if entry is not None:
            taken.add(tag)
            found.append(entry)
    return {"heat_reference": found} if found else {}


def _read(folder: Path, *, simulated: bool) -> Json | None:
    try:
        evidence = open_evidence(folder)
        stated = evidence.header.references.get("stated", {})
        if evidence.header.simulated != simulated or not stated.get("as_reference"):
            return None
        return heat_reference_of(course_of(evidence))
    except JournalError:
        return None  # `soak judge` says what is wrong with it; a reference may lack it
