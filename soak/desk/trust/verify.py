"""Verify a file that goes with a sale: whole and signed by whom, or changed."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soak.desk.bench_folder import JOURNAL
from soak.desk.trust.belongings import soak_faults
from soak.desk.trust.keys import known_keys
from soak.desk.trust.sealed_folder import MANIFEST, check_listed, is_manifest, read_manifest
from soak.errors import ExitCode, JournalError, UsageError
from soak.journal import open_evidence
from soak.outside import is_file, is_folder, json_of, read_bytes
from soak.report.output.files import DATA, json_text
from soak.report.signing.sign import Changed, NotSigned, Signed, check_data, check_file, short_key
from soak.report.signing.token import told
from soak.visible import visible
from soak.words import msg

MOST_JOURNAL_BYTES = 4 << 30
"""A larger journal is not looked at, B. Own choice: a week of pictures takes less."""
_PICTURES = (".png", ".jpg", ".jpeg")


@dataclass(frozen=True, slots=True)
class Checked:
    """What came of it: one sentence and an exit code; `more` are lines to compare by eye."""

    text: str
    code: ExitCode
    more: tuple[str, ...] = ()


def verify(bench: Path, name: str, key: str = "") -> Checked:
    """Verify one file: a page, paper, data, journal or listing picture.

    Raises
    ------
    UsageError
        If it cannot be read, or is of no kind that soak signs.
    """
    file = _meant(Path(name))
    try:
        content = read_bytes(file, MOST_JOURNAL_BYTES)
    except OSError as fault:
        raise UsageError(
            msg("{file}: cannot be read: {why}", file=str(file), why=str(fault.strerror))
        ) from None
    known = known_keys(bench, key)
    try:
        return _checked(file, content, known)
    except NotSigned as fault:
        return Checked(f"{file}: {fault}", ExitCode.INCOMPLETE)
    except Changed as fault:
        return Checked(f"{file}: CHANGED: {fault}", ExitCode.FAILED)
    except JournalError as fault:
        return Checked(f"CHANGED or damaged: {fault}", ExitCode.FAILED)


def _meant(path: Path) -> Path:
    """Return the file that speaks for a folder: the list of a sealed one, the journal of a soak."""
    if not is_folder(path):
        return path
    for name in (MANIFEST, JOURNAL):
        if is_file(path / name) or (path / name).is_symlink():
            return path / name
    raise UsageError(
        msg(
            "{path}: is neither the folder of a soak nor a sealed one: it has no {journal} and no "
            "{manifest}",
            path=str(path),
            journal=JOURNAL,
            manifest=MANIFEST,
        )
    )


def _checked(file: Path, content: bytes, known: dict[str, str]) -> Checked:
    ending = file.suffix.lower()
    if ending in (".html", ".pdf"):
        return _whole(file, check_file(content), known)
    if ending == ".json":
        data = read_manifest(content)
        if file.name == MANIFEST or is_manifest(data):
            return _sealed(file, content, data, known)
        return _whole(file, _data(content), known)
    if ending == ".sqlite":
        return _journal(file, content, known)
    if ending in _PICTURES:
        return _picture(file, content, known)
    raise UsageError(
        msg(
            "{file}: soak signs HTML, PDF, JSON, journals and pictures; this is none",
            file=str(file),
        )
    )


def _whole(file: Path, signed: Signed, known: dict[str, str]) -> Checked:
    name = known.get(signed.key)
    if name is None:
        text = f"{file}: whole, but signed by an UNKNOWN key: {signed.short}"
        return Checked(text, ExitCode.INCOMPLETE)
    return Checked(f"{file}: whole, signed by {name}: {signed.short}", ExitCode.DONE)


def _sealed(
    manifest: Path, content: bytes, data: Mapping[str, Any], known: dict[str, str]
) -> Checked:
    """Check a sealed folder: what it holds, who signed it, and what its own journals say of it."""
    wrong = check_listed(manifest, data)
    whole = _whole(manifest, _data(content), known)
    if not wrong:
        return whole
    return Checked(
        f"{whole.text}; and not all of it is what was recorded:",
        max(whole.code, ExitCode.INCOMPLETE),
        tuple(map(str, wrong)),
    )


def _data(content: bytes) -> Signed:
    """Check data: what it says and how it is written; a moved blank is a change too."""
    try:
        data = json_of(content)
    except ValueError:
        raise Changed(msg("is not JSON any more")) from None
    if not isinstance(data, dict):
        raise Changed(msg("is not a report"))
    signed = check_data(data)
    if json_text(data) != visible(content.decode("utf-8", "replace")):
        raise Changed(msg("its text was changed, though not what it says"))
    return signed


def _journal(file: Path, content: bytes, known: dict[str, str]) -> Checked:
    """Check a journal: its chain and seal, and that a signed report beside it names its hash."""
    evidence = open_evidence(file)
    wrong = [str(fault.told) for fault in soak_faults(evidence)]
    if wrong:
        return Checked(f"{file}: CHANGED: {wrong[0]}", ExitCode.FAILED, tuple(wrong[1:]))
    report = file.parent / DATA
    if report.is_file():
        data = read_bytes(report)
        signed = _data(data)
        seals = {soak.get("seal_sha256") for soak in json_of(data).get("soaks", [])}
        if hashlib.sha256(content).hexdigest() not in seals:
            raise Changed(msg("is not the journal that {report} was made from", report=str(report)))
        return _whole(file, signed, known)
    if evidence.seal is None:
        raise NotSigned(msg("is not sealed: the soak runs or was cut off"))
    raise NotSigned(
        msg("is whole by its own seal, and no {data} beside it vouches for that", data=DATA)
    )


def _picture(file: Path, content: bytes, known: dict[str, str]) -> Checked:
    """Read a picture's code and show what was signed; only an eye can compare the rest."""
    from soak.desk.trust.qr import read_qr

    text = read_qr(content)
    if not text:
        raise NotSigned(msg("no code can be read in it; type the report's number to its seller"))
    said = told(text)
    match = next((key for key in known if key.startswith(said.key_begins)), None)
    if match is None:
        line = f"{file}: its code is signed by an UNKNOWN key: {short_key(said.key_begins)}"
        return Checked(line, ExitCode.INCOMPLETE, said.lines)
    said.check(match)
    line = f"{file}: its code is whole, signed by {known[match]}; compare by eye:"
    return Checked(line, ExitCode.DONE, said.lines)
