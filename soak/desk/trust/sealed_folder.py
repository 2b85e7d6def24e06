"""A sealed folder: files listed with their hashes in one manifest, which may be signed.

Nothing in it may lead out of it: what is listed lies below the folder, is a plain file and is
reached through no link; and nothing lies there that is not listed.
"""

import hashlib
import os
import stat
from collections.abc import Iterator, Mapping
from pathlib import Path, PurePosixPath
from typing import Any

from soak.desk.bench_folder import JOURNAL
from soak.desk.trust.belongings import copied_faults
from soak.errors import JournalError, told_of
from soak.journal import open_evidence
from soak.journal.kept import Fault
from soak.journal.store import KEPT
from soak.outside import json_of, opened, stays_inside
from soak.report.output.files import json_text
from soak.report.signing.sign import BenchKey, Changed, sign_data
from soak.words import Message, joined, just, msg

MANIFEST = "manifest.json"
SOAKS = "soaks"
"""Folder of the soaks within a sealed one."""


def seal(folder: Path, told: Mapping[str, Any], key: BenchKey | None) -> int:
    """Write the manifest of all files of a folder; return how many there are.

    Raises
    ------
    OSError
        If a file cannot be read or the manifest cannot be written.
    Changed
        If something there is no plain file.
    """
    files = dict(sorted(hashes(folder)))
    manifest = {**told, "files": files}
    sealed = manifest if key is None else sign_data(manifest, key)
    (folder / MANIFEST).write_text(json_text(sealed), encoding="utf-8")
    return len(files)


def is_manifest(data: Mapping[str, Any]) -> bool:
    """Tell whether data are the manifest of a sealed folder, whatever their file is called."""
    return isinstance(data.get("files"), dict) and isinstance(data.get("missing_soaks"), list)


def check_listed(manifest: Path, data: Mapping[str, Any]) -> list[Message]:
    """Check that a sealed folder holds what its manifest lists and nothing else.

    Returns
    -------
    list of Message
        What was not as recorded when it was sealed, or does not fit the journals in it.

    Raises
    ------
    Changed
        If a file is gone, was changed or was added, or the manifest is none or not in its place.
    OSError
        If a file cannot be read.
    """
    if manifest.is_symlink():
        raise Changed(msg("is a link; a sealed folder is checked by its own manifest"))
    if not is_manifest(data):
        raise Changed(msg("is not the manifest of a sealed folder"))
    if manifest.name != MANIFEST:
        raise Changed(
            msg(
                "is the manifest of a sealed folder under another name; only {name} in its own "
                "folder is checked",
                name=MANIFEST,
            )
        )
    listed: Mapping[str, Any] = data["files"]
    for name in listed:
        if name == MANIFEST or not stays_inside(name):
            raise Changed(msg("it lists {name}, which is no file of this folder", name=repr(name)))
    folder = manifest.parent
    there = dict(hashes(folder))
    for name, digest in listed.items():
        if name not in there:
            raise Changed(msg("{name} is gone", name=name))
        if there[name] != digest:
            raise Changed(msg("{name} is not what was sealed", name=name))
    more = sorted(there.keys() - listed.keys())
    if more:
        raise Changed(msg("{more} was added", more=more[0]))
    return _not_as_recorded(folder, data, there)


def hashes(folder: Path) -> Iterator[tuple[str, str]]:
    """Yield name and SHA-256 of each file in a folder but its manifest.

    Raises
    ------
    Changed
        If something there is no plain file.
    OSError
        If something cannot be read.
    """
    for at, folders, files in os.walk(folder, onerror=_raise):
        for entry in sorted([*folders, *files]):
            path = Path(at) / entry
            name = path.relative_to(folder).as_posix()
            mode = path.lstat().st_mode
            if stat.S_ISREG(mode):
                if name != MANIFEST:
                    with opened(path) as file:
                        yield name, hashlib.file_digest(file, "sha256").hexdigest()
            elif not stat.S_ISDIR(mode):
                raise Changed(
                    msg("{name} is no plain file; a sealed folder has no other", name=name)
                )


def _not_as_recorded(
    folder: Path, data: Mapping[str, Any], there: Mapping[str, str]
) -> list[Message]:
    """Tell what its list says was wrong when it was sealed, and what else the journals say."""
    said = [_as_fault(entry) for entry in data.get("not_as_recorded", ())]
    known = {(where, fault.name) for where, fault in said}
    for soak in sorted({PurePosixPath(name).parts[1] for name in there if name.startswith(SOAKS)}):
        said += [
            (soak, fault)
            for fault in _faults_of_soak(folder / SOAKS / soak, there)
            if (soak, fault.name) not in known
        ]
    said += [
        (unit, Fault(file, msg("is not the photograph that the ledger recorded")))
        for unit, file, digest in _photographs(data)
        if there.get(file) != digest and (unit, file) not in known
    ]
    missing = [
        msg("{soak}: is in the ledger and its folder was gone", soak=str(soak))
        for soak in data["missing_soaks"]
    ]
    return [*missing, *(joined(": ", [where, fault.told]) for where, fault in said)]


def _photographs(data: Mapping[str, Any]) -> list[tuple[str, str, str]]:
    """Return unit, file and hash of each photograph that was on record."""
    try:
        return [
            (str(data["unit"]), str(one["file"]), str(one["sha256"]))
            for one in data.get("photographs", ())
        ]
    except (TypeError, KeyError):
        raise Changed(msg("is not the manifest of a sealed folder")) from None


def _faults_of_soak(folder: Path, there: Mapping[str, str]) -> list[Fault]:
    begins = f"{SOAKS}/{folder.name}/{KEPT}/"
    kept = {name[len(begins) :]: there[name] for name in there if name.startswith(begins)}
    try:
        return copied_faults(open_evidence(folder / JOURNAL), kept)
    except JournalError as fault:
        return [Fault(JOURNAL, told_of(fault))]


def _as_fault(entry: Any) -> tuple[str, Fault]:
    try:
        return str(entry["of"]), Fault(str(entry["file"]), just(str(entry["what"])))
    except (TypeError, KeyError):
        raise Changed(msg("is not the manifest of a sealed folder")) from None


def _raise(fault: OSError) -> None:
    raise fault


def read_manifest(content: bytes) -> Mapping[str, Any]:
    """Return the data of a manifest; nothing if it holds none."""
    try:
        data = json_of(content)
    except ValueError:
        return {}
    return data if isinstance(data, dict) else {}
