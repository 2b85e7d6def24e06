"""What earlier tries bring along into the sequential plans of a soak, frozen into its header."""

from collections.abc import Sequence
from typing import Any

from soak.derive.course import course_of
from soak.derive.sequential import FROZEN, carried
from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.errors import JournalError
from soak.evidence import Evidence
from soak.journal import open_evidence
from soak.ledger.ledger import Ledger
from soak.records import Requirement


def tries_before(
    bench: BenchFolder, ledger: Ledger, job_id: str, needs: Sequence[Requirement]
) -> dict[str, Any]:
    """Return the entry of a header's references; empty where nothing is decided by a plan."""
    planned = [need for need in needs if "plan" in need.params]
    if not planned:
        return {}
    lines = sorted(ledger.soaks(), key=lambda line: (line.began_utc, line.soak_id))
    ids = [line.soak_id for line in lines if line.job_id == job_id]
    earlier = [course_of(one) for soak_id in ids for one in _readable(bench, soak_id)]
    return {FROZEN: {need.id: carried(need, earlier).as_json() for need in planned}}


def _readable(bench: BenchFolder, soak_id: str) -> list[Evidence]:
    """Return a soak's evidence; without its journal the judge says that it is gone or damaged."""
    folder = bench.reports / soak_id
    try:
        return [open_evidence(folder)] if (folder / JOURNAL).is_file() else []
    except JournalError:
        return []
