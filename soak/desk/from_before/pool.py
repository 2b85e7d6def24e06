"""Earlier units of the same model and repair, counted for a soak's header: shown, never graded."""

from collections.abc import Iterator
from pathlib import Path

from soak.derive.course import course_of
from soak.desk.bench_folder import BenchFolder
from soak.desk.from_before.like_units import soaks_of_like_units
from soak.errors import JournalError
from soak.journal import open_evidence
from soak.judge.explain.pooled import counts_of
from soak.ledger.ledger import Ledger
from soak.records import Json

MOST_UNITS = 40
"""Only the newest so many are counted: reading the journal of a night takes some 0.03 s."""


def pool(
    bench: BenchFolder, ledger: Ledger, unit: Json, *, simulated: bool
) -> dict[str, list[Json]]:
    """Return the entry `pool` of a header's references, one line a unit; empty if there is none.

    Parameters
    ----------
    unit : Json
        As in the header: `tag`, `model`, `repairs` with their functions.
    simulated : bool
        Real units are pooled with real ones only, simulated with simulated ones.
    """
    functions = _functions(unit)
    if not functions:
        return {}
    found: list[Json] = []
    for folder in _newest_of_each(bench, ledger, unit):
        if len(found) == MOST_UNITS:
            break
        entry = _counted(folder, functions, simulated=simulated)
        if entry is not None:
            found.append(entry)
    return {"pool": found} if found else {}


def _newest_of_each(bench: BenchFolder, ledger: Ledger, unit: Json) -> Iterator[Path]:
    """Yield the newest complete soak of each other unit of the model, the newest first."""
    seen: set[str] = set()
    for tag, _, folder in soaks_of_like_units(bench, ledger, unit):
        if tag not in seen:
            seen.add(tag)
            yield folder


def _counted(folder: Path, functions: frozenset[str], *, simulated: bool) -> Json | None:
    try:
        course = course_of(open_evidence(folder))
    except JournalError:
        return None  # `soak judge` says what is wrong with it; a reference may lack it
    header = course.header
    if header.simulated != simulated or not functions & _functions(header.unit):
        return None
    return {"soak_id": header.soak_id, **counts_of(course)}


def _functions(unit: Json) -> frozenset[str]:
    return frozenset(str(one["function"]) for one in unit.get("repairs") or () if one["function"])
