"""Reports that were issued: which edition is current, and which one a sale was made on."""

import shutil
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from soak.desk.bench_folder import BenchFolder
from soak.ledger.ledger import Ledger
from soak.outside import json_of, read_bytes

DATA = "report.json"


def report_of_unit(bench: BenchFolder, ledger: Ledger, unit: str) -> str:
    """Return id and edition of the newest report of a unit's job; empty if there is none."""
    entry = ledger.find_unit(unit)
    job = ledger.unit_card(entry.tag).job.job_id
    for line in reversed([soak for soak in ledger.soaks(entry.tag) if soak.job_id == job]):
        said = read(bench.reports / line.soak_id)
        if said:
            return f"{said.get('report_id', '')}, edition {said.get('edition', '?')}"
    return ""


def read(folder: Path, name: str = DATA) -> dict[str, Any]:
    """Return the data of a folder's report; nothing if there is none that can be read."""
    try:
        said = json_of(read_bytes(folder / name))
    except (OSError, ValueError):
        return {}
    return said if isinstance(said, dict) else {}


def editions(folder: Path) -> Sequence[dict[str, Any]]:
    """Return the data of all reports that a folder keeps, the current one first."""
    kept = sorted(file.name for file in folder.glob("report-edition-*.json"))
    return [read(folder, name) for name in (DATA, *kept)]


def keep(folder: Path, edition: int) -> None:
    """Keep the data of an edition that is about to be superseded."""
    shutil.copyfile(folder / DATA, folder / f"report-edition-{edition}.json")
