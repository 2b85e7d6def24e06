"""Everything about one unit in one sealed folder, for an inspector or a dispute."""

import hashlib
import json
import shutil
from collections.abc import Iterator
from dataclasses import asdict
from pathlib import Path
from typing import Any

from soak import __version__
from soak.desk.bench_folder import BenchFolder
from soak.desk.trust.keys import bench_key
from soak.desk.units import open_ledger
from soak.errors import UsageError
from soak.ledger.ledger import Ledger
from soak.report.output.files import json_text
from soak.report.signing.sign import sign_data
from soak.words import Message, lines_of, msg

MANIFEST = "manifest.json"
_LEFT_OUT = ("inbox",)


def export_unit(bench_path: Path, unit: str, into: str) -> Message:
    """Copy a unit's card, journals, evidence, reports and photographs; seal them by a manifest.

    Raises
    ------
    UsageError
        If the folder is there already and not empty, or cannot be written.
    LedgerError
        If the unit is unknown.
    """
    bench = BenchFolder(bench_path)
    ledger = open_ledger(bench_path)
    tag = ledger.find_unit(unit).tag
    folder = Path(into)
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise UsageError(
            msg("{folder}: is there already and not empty; name a new folder", folder=str(folder))
        )
    try:
        missing = _copy_all(bench, ledger, tag, folder)
        manifest = _manifest(folder, tag, missing)
        key = bench_key(bench_path)
        sealed = manifest if key is None else sign_data(manifest, key)
        (folder / MANIFEST).write_text(json_text(sealed), encoding="utf-8")
    except OSError as fault:
        raise UsageError(
            msg("{folder}: cannot be written: {why}", folder=str(folder), why=str(fault.strerror))
        ) from None
    lines = [
        msg(
            "{folder}: {files} files, sealed by {manifest}",
            folder=str(folder),
            files=len(manifest["files"]),
            manifest=MANIFEST,
        )
    ]
    lines += [
        msg("MIND: {soak} is in the ledger and its folder is gone", soak=soak_id)
        for soak_id in missing
    ]
    if key is None:
        lines.append(msg("not signed: this bench has no key; make one with `soak key`"))
    return lines_of(lines)


def _copy_all(bench: BenchFolder, ledger: Ledger, tag: str, folder: Path) -> list[str]:
    """Copy what there is; return the soaks whose folders are gone."""
    folder.mkdir(parents=True, exist_ok=True)
    card = json.dumps(asdict(ledger.unit_card(tag)), default=str, indent=1, ensure_ascii=False)
    (folder / "card.json").write_text(card + "\n", encoding="utf-8")
    missing = []
    for line in ledger.soaks(tag):
        source = bench.reports / line.soak_id
        if not source.is_dir():
            missing.append(line.soak_id)
            continue
        shutil.copytree(
            source, folder / "soaks" / line.soak_id, ignore=shutil.ignore_patterns(*_LEFT_OUT)
        )
    photographs = bench.path / "photographs" / tag
    if photographs.is_dir():
        shutil.copytree(photographs, folder / "photographs")
    return missing


def _manifest(folder: Path, tag: str, missing: list[str]) -> dict[str, Any]:
    """List every file with its SHA-256."""
    return {
        "unit": tag,
        "program": __version__,
        "missing_soaks": missing,
        "files": dict(sorted(_hashes(folder))),
    }


def _hashes(folder: Path) -> Iterator[tuple[str, str]]:
    for file in folder.rglob("*"):
        if file.is_file() and file.name != MANIFEST:
            name = file.relative_to(folder).as_posix()
            yield name, hashlib.sha256(file.read_bytes()).hexdigest()
