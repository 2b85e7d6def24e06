"""Write the report's files: each appears whole or not at all, the same bytes for the same input."""

import json
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

from soak.errors import UsageError
from soak.report.content import Sheet
from soak.report.html import page
from soak.report.model import Report
from soak.report.privacy import for_buyer

BENCH_PAGE = "report.html"
BUYER_PAGE = "report-buyer.html"
DATA = "report.json"


@dataclass(frozen=True, slots=True)
class ReportFiles:
    """Where the files of a report lie."""

    bench_page: Path
    buyer_page: Path
    data: Path


def write_report(sheet: Sheet, folder: Path, *, show_serial: bool = False) -> ReportFiles:
    """Write the bench's page, the buyer's page and the JSON into `folder`.

    Parameters
    ----------
    show_serial : bool
        Print the full serial on the buyer's page.

    Raises
    ------
    UsageError
        If the folder cannot be written to.
    """
    buyer = for_buyer(sheet, show_serial=show_serial)
    files = ReportFiles(folder / BENCH_PAGE, folder / BUYER_PAGE, folder / DATA)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _replace(files.bench_page, page(sheet))
        _replace(files.buyer_page, page(buyer))
        _replace(files.data, as_json(sheet.report))
    except OSError as fault:
        raise UsageError(
            f"{folder}: the report cannot be written ({fault.strerror}); free space there or "
            "choose another folder"
        ) from None
    return files


def as_json(report: Report) -> str:
    """Return the report as JSON text, keys in the order of the schema."""
    return json.dumps(report.model_dump(mode="json"), ensure_ascii=False, indent=1) + "\n"


def _replace(path: Path, text: str) -> None:
    """Write beside, sync, rename, sync the folder: a crash leaves the old file or the new one."""
    handle, beside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        Path(beside).chmod(0o644)
        Path(beside).replace(path)
    except BaseException:
        Path(beside).unlink(missing_ok=True)
        raise
    if hasattr(os, "O_DIRECTORY"):
        folder = os.open(path.parent, os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
