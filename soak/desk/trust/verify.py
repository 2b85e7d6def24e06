"""Verify a file that goes with a sale: which unit it is about, whole and signed by whom, or not."""

import hashlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from soak.desk.bench_folder import JOURNAL
from soak.desk.trust.belongings import soak_faults
from soak.desk.trust.keys import KnownKeys, known_keys
from soak.desk.trust.sealed_folder import MANIFEST, check_listed, is_manifest, read_manifest
from soak.desk.trust.since import since
from soak.errors import ExitCode, JournalError, UsageError
from soak.journal import open_evidence
from soak.journal.cleared import cleared
from soak.names import named
from soak.outside import is_file, is_folder, json_of, read_bytes
from soak.report.output.files import DATA, json_text
from soak.report.output.privacy import is_masked_of
from soak.report.signing.particulars import Particulars, particulars_in
from soak.report.signing.sign import (
    Changed,
    NotSigned,
    Signed,
    check_data,
    check_file,
    fingerprint,
)
from soak.report.signing.token import Told, told
from soak.visible import visible
from soak.words import Message, joined, just, msg

MOST_JOURNAL_BYTES = 4 << 30
"""A larger journal is not looked at, B. Own choice: a week of pictures takes less."""
_PICTURES = (".png", ".jpg", ".jpeg")


@dataclass(frozen=True, slots=True)
class Checked:
    """What came of it: one sentence and an exit code; `more` says what the file is about."""

    text: Message
    code: ExitCode
    more: Sequence[Message] = ()


@dataclass(frozen=True, slots=True)
class _Read:
    """A file as it was read.

    Attributes
    ----------
    said : Particulars
        What it says it is; nothing is proved of that yet.
    code : Told or None
        What the code of a picture says.
    wrong : sequence of Message
        Of a sealed folder: what in it is whole, and not what its own journals recorded.
    """

    file: Path
    content: bytes
    said: Particulars
    code: Told | None = None
    wrong: Sequence[Message] = ()


def verify(bench: Path, name: str, key: str = "", unit: str = "") -> Checked:
    """Verify one file: a page, paper, data, journal or picture.

    Parameters
    ----------
    key : str
        The only key to accept, or its fingerprint; empty: any that the bench knows.
    unit : str
        Tag or serial of the unit that it has to be about; empty: any.

    Raises
    ------
    UsageError
        If it cannot be read, or is of no kind that soak signs.
    """
    file = _meant(Path(name))
    try:
        content = read_bytes(file, MOST_JOURNAL_BYTES)
    except OSError as fault:
        gone = cleared(file.parent) if file.name == JOURNAL else None
        if gone is not None:
            raise UsageError(gone.told) from None
        raise UsageError(
            msg("{file}: cannot be read: {why}", file=str(file), why=str(fault.strerror))
        ) from None
    known = known_keys(bench, key)
    read = _Read(file, content, Particulars())
    try:
        read = _read(file, content)
        signer = _signer(read, known)
    except NotSigned as fault:
        return _failing(read, fault.told, ExitCode.INCOMPLETE, unit=unit)
    except Changed as fault:
        return _failing(read, msg("CHANGED: {why}", why=fault.told), ExitCode.FAILED, unit=unit)
    except JournalError as fault:
        return _failing(
            read, msg("CHANGED or damaged: {why}", why=fault.told), ExitCode.FAILED, unit=unit
        )
    return _passing(bench, read, signer, known, unit=unit)


def _meant(path: Path) -> Path:
    """Return the file that speaks for a folder: the list of a sealed one, the journal of a soak."""
    if not is_folder(path):
        return path
    for name in (MANIFEST, JOURNAL):
        if is_file(path / name) or (path / name).is_symlink():
            return path / name
    gone = cleared(path)
    if gone is not None:
        raise UsageError(gone.told)
    raise UsageError(
        msg(
            "{path}: is neither the folder of a soak nor a sealed one: it has no {journal} and no "
            "{manifest}",
            path=str(path),
            journal=JOURNAL,
            manifest=MANIFEST,
        )
    )


def _failing(read: _Read, what: Message, code: ExitCode, *, unit: str) -> Checked:
    said = list(_lines(read.said))
    more = [msg("It says of itself, unproven:"), *said] if said else []
    codes = [code]
    if unit and said:
        told_of_unit, of_unit = _of_unit(read.said, unit)
        more.append(told_of_unit)
        codes.append(of_unit)
    text = joined(": ", [str(read.file), what])
    return Checked(text, max(codes, key=_WORST.index), more)


def _passing(bench: Path, read: _Read, signer: Signed, known: KnownKeys, *, unit: str) -> Checked:
    """Say of what is whole who signed it, whether it is of that unit, and what came since."""
    name = known.name_of(signer.key)
    whole = msg(
        "whole, signed by {name}: {fingerprint}", name=name or "", fingerprint=signer.fingerprint
    )
    codes = [ExitCode.DONE]
    if name is None:
        whole = msg(
            "whole, but signed by an UNKNOWN key: {fingerprint}", fingerprint=signer.fingerprint
        )
        codes.append(ExitCode.INCOMPLETE)
    if read.code is not None:
        whole = msg("only its code is signed, compare by eye what that says: {it}", it=whole)
    if read.wrong:
        whole = msg("{whole}; and not all of it is what was recorded:", whole=whole)
        codes.append(ExitCode.INCOMPLETE)
    more = [*read.wrong, *_lines(read.said)]
    if unit:
        told_of_unit, code = _of_unit(read.said, unit)
        more.append(told_of_unit)
        codes.append(code)
    for known_since in since(bench, read.said) if known.is_own(signer.key) else ():
        more.append(known_since.words)
        codes.append(known_since.code)
    return Checked(joined(": ", [str(read.file), whole]), max(codes, key=_WORST.index), more)


_WORST = (ExitCode.DONE, ExitCode.INCOMPLETE, ExitCode.FAILED)


def _of_unit(said: Particulars, unit: str) -> tuple[Message, ExitCode]:
    wanted = unit.strip().lower()
    if wanted in (said.unit.lower(), said.serial.lower()):
        return msg("It is of the unit asked for, {unit}.", unit=unit), ExitCode.DONE
    if is_masked_of(said.serial, unit.strip()):
        return msg(
            "Its serial fits {unit} as far as it is shown; ask for the whole one.", unit=unit
        ), ExitCode.DONE
    return msg("ANOTHER UNIT: it is not of {unit}.", unit=unit), ExitCode.FAILED


def _lines(said: Particulars) -> Iterator[Message]:
    """Yield what a file says it is, a line for each thing."""
    for name, text in (
        (msg("unit"), just(said.unit)),
        (msg("model"), just(said.model)),
        (msg("serial"), just(said.serial)),
        (msg("grade"), named(said.grade) if said.grade else just("")),
        (msg("edition"), just(said.edition)),
        (msg("tested"), just(said.tested)),
        (msg("issued"), just(said.issued)),
        (msg("report"), just(said.report)),
        (msg("simulated"), msg("yes") if said.simulated else just("")),
    ):
        if text:
            yield joined(": ", [name, text])


def _read(file: Path, content: bytes) -> _Read:
    """Read what a file says it is."""
    ending = file.suffix.lower()
    if ending in (".html", ".pdf"):
        return _Read(file, content, particulars_in(content))
    if ending == ".json":
        return _of_data(file, content)
    if ending == ".sqlite":
        return _Read(file, content, _of_journal(file))
    if ending in _PICTURES:
        code = _code_in(content)
        return _Read(file, content, code.particulars, code)
    raise UsageError(
        msg(
            "{file}: soak signs HTML, PDF, JSON, journals and pictures; this is none",
            file=str(file),
        )
    )


def _of_data(file: Path, content: bytes) -> _Read:
    data = read_manifest(content)
    sealed = file.name == MANIFEST or is_manifest(data)
    wrong = check_listed(file, data) if sealed else ()
    return _Read(file, content, Particulars.of_data(data), wrong=wrong)


def _of_journal(file: Path) -> Particulars:
    """Return what the report beside a journal says, else what the journal's own header says."""
    report = file.parent / DATA
    if report.is_file():
        return Particulars.of_data(_object(read_bytes(report)))
    unit = open_evidence(file).header.unit
    return Particulars(unit=unit.tag, model=unit.model, serial=unit.serial)


def _object(content: bytes) -> Mapping[str, Any]:
    try:
        data = json_of(content)
    except ValueError:
        return {}
    return data if isinstance(data, dict) else {}


def _code_in(content: bytes) -> Told:
    from soak.desk.trust.qr import read_qr

    text = read_qr(content)
    if not text:
        raise NotSigned(msg("no code can be read in it; type the report's number to its seller"))
    return told(text)


def _signer(read: _Read, known: KnownKeys) -> Signed:
    """Return who signed a file that is whole."""
    file = read.file
    content = read.content
    if read.code is not None:
        return _signer_of_code(read.code, known)
    ending = file.suffix.lower()
    if ending == ".sqlite":
        return _journal(file, content)
    signed = _data(content) if ending == ".json" else check_file(content)
    if read.said.key and read.said.key != signed.fingerprint:
        raise Changed(
            msg(
                "it prints the fingerprint {printed} and is signed by another key, {fingerprint}",
                printed=read.said.key,
                fingerprint=signed.fingerprint,
            )
        )
    return signed


def _signer_of_code(code: Told, known: KnownKeys) -> Signed:
    whole = known.whole_key(code.key) or code.key
    if len(whole) < 64:
        raise NotSigned(
            msg(
                "its code is signed by a key of which it holds only the beginning, {begins}; give "
                "the whole key by --key",
                begins=fingerprint(whole),
            )
        )
    code.check(whole)
    return Signed(whole)


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


def _journal(file: Path, content: bytes) -> Signed:
    """Check a journal: its chain and seal, and that a signed report beside it names its hash."""
    evidence = open_evidence(file)
    wrong = [fault.told for fault in soak_faults(evidence)]
    if wrong:
        raise Changed(joined("\n  ", wrong))
    report = file.parent / DATA
    if report.is_file():
        data = read_bytes(report)
        signed = _data(data)
        seals = {soak.get("seal_sha256") for soak in json_of(data).get("soaks", [])}
        if hashlib.sha256(content).hexdigest() not in seals:
            raise Changed(msg("is not the journal that {report} was made from", report=str(report)))
        return signed
    if evidence.seal is None:
        raise NotSigned(msg("is not sealed: the soak runs or was cut off"))
    raise NotSigned(
        msg("is whole by its own seal, and no {data} beside it vouches for that", data=DATA)
    )
