"""Make a unit's label: its code and QR, as picture for a label printer and as PDF."""

import re
from pathlib import Path

from soak.desk.bench_card import read_bench
from soak.desk.bench_folder import BenchFolder
from soak.desk.units import open_ledger
from soak.errors import FixtureError, UsageError
from soak.report.output.slips import label
from soak.words import Message, lines_of, msg

_SIZE = re.compile(r"(\d+(?:\.\d+)?)\s*[x×]\s*(\d+(?:\.\d+)?)(?:\s*mm)?")


def make_label(bench_path: Path, unit: str, size: str) -> Message:
    """Write the label of a unit into the bench's folder `labels`; return where it lies.

    Raises
    ------
    LedgerError
        If there is no such unit.
    UsageError
        If the size is none.
    """
    bench = BenchFolder(bench_path)
    entry = open_ledger(bench_path).find_unit(unit)
    slip = label(
        read_bench(bench).name,
        entry.tag,
        _model(bench, entry.model),
        serial=entry.serial,
        size_mm=_size(size),
    )
    folder = bench.path / "labels"
    folder.mkdir(parents=True, exist_ok=True)
    files = (folder / f"{entry.tag}.png", folder / f"{entry.tag}.pdf")
    for file, content in zip(files, (slip.png, slip.pdf), strict=True):
        file.write_bytes(content)
    return lines_of(map(str, files))


def _size(text: str) -> tuple[float, float]:
    match = _SIZE.fullmatch(text.strip())
    if match is None:
        raise UsageError(
            msg("--size {text}: write width and height in mm, such as 57x32", text=text)
        )
    return float(match[1]), float(match[2])


def _model(bench: BenchFolder, model: str) -> str:
    """Return the model's name as its sheet has it; a label needs no sheet."""
    try:
        return bench.model_sheet(model).model
    except FixtureError:
        return model
