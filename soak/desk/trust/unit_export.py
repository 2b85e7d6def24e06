"""Everything about one unit in one sealed folder, for an inspector or a dispute."""

import json
import shutil
import stat
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from soak import __version__
from soak.desk.bench_folder import JOURNAL, BenchFolder
from soak.desk.from_before.jobs_before import soaks_beside_the_ledger
from soak.desk.trust.belongings import (
    PHOTOGRAPHS,
    opened,
    photograph_faults,
    photograph_of,
    soak_faults,
)
from soak.desk.trust.keys import KEY_FOLDER, bench_key
from soak.desk.trust.sealed_folder import MANIFEST, SOAKS, seal
from soak.desk.units import open_ledger
from soak.errors import ExitCode, JournalError, UsageError, told_of
from soak.journal.kept import Fault
from soak.journal.store import KEPT
from soak.ledger.ledger import Ledger
from soak.words import Message, joined, msg

_COPIED = ("", KEPT)
"""Folders of a soak that are copied: its own and that of the kept files."""


@dataclass(frozen=True, slots=True)
class Exported:
    """What was sealed; `INCOMPLETE` where something of it is gone or not what was recorded."""

    text: Message
    code: ExitCode


@dataclass(frozen=True, slots=True)
class _Wrong:
    """A file that is not as it was recorded, and the soak or unit that it is of."""

    of: str
    fault: Fault

    @property
    def told(self) -> Message:
        return joined(": ", [self.of, self.fault.told])


def export_unit(bench_path: Path, unit: str, into: str) -> Exported:
    """Copy a unit's card, journals, evidence, reports and photographs; seal them by a manifest.

    What is not what was recorded stays out, and the sealed manifest says so.

    Raises
    ------
    UsageError
        If the folder is there already and not empty, is a part of the bench's own records, or
        cannot be written.
    LedgerError
        If the unit is unknown.
    """
    bench = BenchFolder(bench_path)
    ledger = open_ledger(bench_path)
    tag = ledger.find_unit(unit).tag
    folder = Path(into)
    _refuse(bench, folder)
    seals = {line.soak_id: line.seal for line in ledger.soaks(tag)}
    missing = [soak_id for soak_id in seals if not (bench.reports / soak_id).is_dir()]
    unknown = soaks_beside_the_ledger(bench, ledger, tag)
    beside = {fault.name: "" for fault in unknown}
    key = bench_key(bench_path)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        card = json.dumps(asdict(ledger.unit_card(tag)), default=str, indent=1, ensure_ascii=False)
        (folder / "card.json").write_text(card + "\n", encoding="utf-8")
        wrong = [
            _Wrong(soak_id, fault)
            for soak_id, seal_known in {**seals, **beside}.items()
            if soak_id not in missing
            for fault in _copy_soak(bench, soak_id, seal_known, folder / SOAKS)
        ]
        wrong += [_Wrong(tag, fault) for fault in unknown]
        wrong += [_Wrong(tag, fault) for fault in _copy_photographs(bench, ledger, tag, folder)]
        count = seal(folder, _manifest(ledger, tag, missing, wrong), key)
    except OSError as fault:
        raise UsageError(
            msg("{folder}: cannot be written: {why}", folder=str(folder), why=str(fault.strerror))
        ) from None
    said = [
        msg(
            "{folder}: {count} files, sealed by {manifest}",
            folder=str(folder),
            count=count,
            manifest=MANIFEST,
        ),
        *(
            msg("MIND: {soak} is in the ledger and its folder is gone", soak=soak)
            for soak in missing
        ),
        *(msg("MIND: {what}", what=one.told) for one in wrong),
        None if key else msg("not signed: this bench has no key; make one with `soak key`"),
    ]
    whole = not missing and not wrong
    return Exported(joined("\n", said), ExitCode.DONE if whole else ExitCode.INCOMPLETE)


def _manifest(
    ledger: Ledger, tag: str, missing: Sequence[str], wrong: Sequence[_Wrong]
) -> dict[str, Any]:
    """Return what the manifest says beside the files."""
    return {
        "unit": tag,
        "program": __version__,
        "missing_soaks": list(missing),
        "photographs": [asdict(one) | {"on": str(one.on)} for one in ledger.photographs(tag)],
        "not_as_recorded": [
            {"of": one.of, "file": one.fault.name, "what": str(one.fault.what)} for one in wrong
        ],
    }


def _refuse(bench: BenchFolder, folder: Path) -> None:
    """Refuse a folder that has something in it, or would be a part of what is copied."""
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise UsageError(
            msg("{folder}: is there already and not empty; name a new folder", folder=str(folder))
        )
    wanted = folder.resolve()
    for own in (bench.reports, bench.path / PHOTOGRAPHS, bench.path / KEY_FOLDER):
        if wanted.is_relative_to(own.resolve()) or own.resolve().is_relative_to(wanted):
            raise UsageError(
                msg(
                    "{folder}: lies within {own}, the bench's own records; name a folder elsewhere",
                    folder=str(folder),
                    own=str(own),
                )
            )


def _copy_soak(bench: BenchFolder, soak_id: str, seal_known: str, into: Path) -> Sequence[Fault]:
    """Copy the plain files of a soak; return what is not as it was recorded."""
    source = bench.reports / soak_id
    wrong = list(_soak_faults(bench, source, seal_known))
    not_so = {fault.name for fault in wrong}
    for part in _COPIED:
        if (source / part).is_symlink() or not (source / part).is_dir():
            continue
        (into / source.name / part).mkdir(parents=True, exist_ok=True)
        for file in sorted((source / part).iterdir()):
            mode = file.lstat().st_mode
            if part == KEPT and file.name in not_so:
                continue
            if stat.S_ISREG(mode):
                shutil.copyfile(file, into / source.name / part / file.name)
            elif not stat.S_ISDIR(mode):
                wrong.append(Fault(file.name, msg("is no plain file and was left out")))
    return wrong


def _soak_faults(bench: BenchFolder, source: Path, seal_known: str) -> Sequence[Fault]:
    try:
        evidence = opened(bench, source)
        wrong = soak_faults(evidence)
    except JournalError as fault:
        return [Fault(JOURNAL, told_of(fault))]
    if seal_known and seal_known != evidence.file_sha256:
        wrong.append(Fault(JOURNAL, msg("is not the journal that the ledger took in")))
    return wrong


def _copy_photographs(
    bench: BenchFolder, ledger: Ledger, tag: str, folder: Path
) -> Sequence[Fault]:
    """Copy the photographs that the ledger names; return what is not as it recorded them."""
    photographs = ledger.photographs(tag)
    wrong = photograph_faults(bench.path, tag, photographs)
    not_so = {fault.name for fault in wrong}
    for photograph in photographs:
        if photograph.file not in not_so:
            file = folder / photograph.file
            file.parent.mkdir(parents=True, exist_ok=True)
            file.write_bytes(photograph_of(bench.path, photograph))
    return wrong
