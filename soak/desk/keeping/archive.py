"""The file of a backup: a ZIP archive of plain files, a manifest, at the end a SHA-256 of it all.

Any program for ZIP archives opens it. Nothing in it is compressed, so that no small file can become
a large one. Its comment, with which a ZIP archive ends, holds the SHA-256 of every byte before
that, so that a cut or a changed byte is noticed wherever it is; the manifest holds SHA-256, length,
mode and time of each file, as `docs/how-to/keep-a-copy-of-the-bench.md` tells.

References
----------
PKWARE, APPNOTE.TXT - .ZIP File Format Specification, 4.3 and 4.4.
"""

import hashlib
import json
import os
import stat
import zipfile
from collections import Counter
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from io import BufferedReader
from pathlib import Path
from time import gmtime
from typing import BinaryIO, Protocol

from soak.desk.keeping.listed import MODES, Listed, Manifest, NotOurs, read_manifest
from soak.errors import UsageError
from soak.outside import NotRead, opened
from soak.words import Message, joined, just, msg

MANIFEST = "manifest.json"
ABOUT = "ABOUT-THIS-BACKUP.txt"
_ABOUT = b"""\
A backup of a bench, made by `soak`; `soak restore THIS-FILE NEW-FOLDER` checks and restores it.

Any program for ZIP archives opens it as well: each file stands in it under its place in the bench's
folder, as it is. manifest.json lists them with their SHA-256. The comment at the end of the archive
ends with 64 hexadecimal digits: the SHA-256 of every byte before them.

It may hold the bench's private key (key/bench.key): whoever has that signs reports as this bench.
"""
_COMMENT = b"soak backup, sha256 "
_DIGITS = 64
"""Decides nothing: a SHA-256 in hexadecimal has so many digits."""
_PIECE_BYTES = 1 << 20
"""Decides nothing: so much is held in memory at a time."""
_LARGE_BYTES = 1 << 31
"""Decides nothing: from here on an entry of a ZIP archive needs its 64-bit fields."""
_FIRST = (1980, 1, 1, 0, 0, 0)
_LAST_YEAR = 2107
"""Decides nothing: the years that a ZIP archive can say; the manifest has the whole time."""
_MADE_UP = (
    *(zipfile.BadZipFile, EOFError, NotImplementedError),
    *(RuntimeError, ValueError, KeyError, OverflowError),
)
"""What the library raises where an archive says what cannot be."""
_MOST_OF_A_MANIFEST_BYTES = 256 << 20
"""A manifest is refused above this, B. Own choice: a million files take about as much."""


class Readable(Protocol):
    """What can be read piece by piece."""

    def read(self, most: int, /) -> bytes:
        """Return the next so many bytes, or fewer; none at the end."""
        ...


class Writable(Protocol):
    """What can be written piece by piece."""

    def write(self, data: bytes, /) -> int:
        """Take the next bytes."""
        ...


class Archive:
    """Write a backup, piece after piece.

    Parameters
    ----------
    file : BinaryIO
        New, open to write and read.
    """

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._zip = zipfile.ZipFile(file, "w", zipfile.ZIP_STORED)
        self.files: dict[str, Listed] = {}
        self._put(ABOUT, _ABOUT)

    def add(self, name: str, source: Readable, status: os.stat_result) -> OSError | None:
        """Add a file; return why it could be read only so far, if so: that far it is in it.

        Raises
        ------
        OSError
            If the archive cannot be written.
        """
        mode = stat.S_IMODE(status.st_mode) & MODES
        reading = _Reading(source)
        large = status.st_size >= _LARGE_BYTES
        with self._zip.open(_entry(name, status.st_mtime, mode), "w", force_zip64=large) as sink:
            sha256, length = copied(reading, sink)
        self.files[name] = Listed(sha256, length, status.st_mtime_ns, mode)
        return reading.fault

    def give_up(self) -> None:
        """Close what cannot be finished."""
        with suppress(OSError, ValueError):
            self._zip.close()

    def finish(self, manifest: Manifest) -> str:
        """Write the manifest and what the archive ends with, on the medium; return that SHA-256."""
        self._put(MANIFEST, json.dumps(manifest.as_data(self.files), indent=1).encode())
        self._zip.comment = _COMMENT + b"0" * _DIGITS
        self._zip.close()
        self._file.seek(0, os.SEEK_END)
        sha256 = _sha256(self._file, self._file.tell() - _DIGITS)
        self._file.seek(-_DIGITS, os.SEEK_END)
        self._file.write(sha256.encode())
        self._file.flush()
        os.fsync(self._file.fileno())
        return sha256

    def _put(self, name: str, content: bytes) -> None:
        self._zip.writestr(_entry(name, 0.0, 0o644), content)


@dataclass(frozen=True, slots=True)
class Backup:
    """A backup that was checked: whole, ours, and nothing in it leads out of a folder.

    Attributes
    ----------
    sha256 : str
        With which it ends.
    """

    path: Path
    sha256: str
    manifest: Manifest
    files: Mapping[str, Listed]
    archive: zipfile.ZipFile

    def take(self, name: str, sink: Writable) -> None:
        """Write what a file in it holds.

        Raises
        ------
        UsageError
            If it is not what the manifest says.
        OSError
            If it cannot be written.
        """
        try:
            source = self.archive.open(name)
        except (*_MADE_UP, OSError):  # it may say that it begins before the file does
            sha256 = ""
        else:
            with source:
                sha256 = _sha256_of_copy(source, sink)
        if sha256 != self.files[name].sha256:
            raise UsageError(_in_it(self.path, name, msg("is not what was put into the backup")))


@contextmanager
def opened_backup(path: Path) -> Iterator[Backup]:
    """Open a backup and check all of it but the files' own hashes, which `Backup.take` does.

    Raises
    ------
    UsageError
        If it cannot be read, is none, is cut short, changed, of a newer program, or was made to do
        harm.
    """
    with _opened(path) as stream:
        sha256 = _whole(path, stream)
        try:
            archive = zipfile.ZipFile(stream)
            infos = archive.infolist()
            content = _manifest_in(archive)
        except (*_MADE_UP, OSError):
            raise UsageError(_damaged(path)) from None
        try:
            manifest, files = read_manifest(content)
            _refuse_harm(infos, files, os.fstat(stream.fileno()).st_size)
        except NotOurs as fault:
            raise UsageError(joined(": ", [str(path), fault.told])) from None
        yield Backup(path, sha256, manifest, files, archive)


def _opened(path: Path) -> BufferedReader:
    try:
        return opened(path)
    except OSError as fault:
        why = fault.told if isinstance(fault, NotRead) else just(str(fault.strerror))
        raise UsageError(msg("{file}: cannot be read: {why}", file=str(path), why=why)) from None


def copied(source: Readable, sink: Writable) -> tuple[str, int]:
    """Copy a stream to its end; return the SHA-256 and length of what there was."""
    digest = hashlib.sha256()
    length = 0
    while data := source.read(_PIECE_BYTES):
        digest.update(data)
        length += len(data)
        sink.write(data)
    return digest.hexdigest(), length


def _sha256_of_copy(source: Readable, sink: Writable) -> str:
    """Copy an entry; empty if it cannot be read as its archive says, while `sink` may fail."""
    try:
        return copied(_Reading(source), sink)[0]
    except _MADE_UP:
        return ""


class _Reading:
    """Reads on until the medium fails, which is then an end like any other."""

    def __init__(self, stream: Readable) -> None:
        self._stream = stream
        self.fault: OSError | None = None

    def read(self, most: int, /) -> bytes:
        try:
            return self._stream.read(most)
        except OSError as fault:
            self.fault = fault
            return b""


def _entry(name: str, modified: float, mode: int) -> zipfile.ZipInfo:
    info = zipfile.ZipInfo(name, _FIRST)
    with suppress(ValueError, OverflowError, OSError):  # a time that no calendar has
        at = gmtime(modified)[:6]
        info.date_time = at if _FIRST[0] <= at[0] <= _LAST_YEAR else _FIRST
    info.external_attr = (stat.S_IFREG | mode) << 16
    return info


def _sha256(stream: BinaryIO | BufferedReader, length: int) -> str:
    digest = hashlib.sha256()
    stream.seek(0)
    left = length
    while data := stream.read(min(_PIECE_BYTES, left)):
        digest.update(data)
        left -= len(data)
    return digest.hexdigest()


def _whole(path: Path, stream: BufferedReader) -> str:
    """Return the SHA-256 with which a file ends, if it is that of all before it."""
    size = os.fstat(stream.fileno()).st_size
    begins = stream.read(30 + len(ABOUT))
    stream.seek(max(0, size - _DIGITS - len(_COMMENT)))
    comment = stream.read()
    if not comment.startswith(_COMMENT):
        if not begins.startswith(b"PK") or not begins.endswith(ABOUT.encode()):
            raise UsageError(msg("{file}: is no backup of soak's", file=str(path)))
        raise UsageError(_damaged(path))
    sha256 = comment[len(_COMMENT) :].decode("ascii", "replace")
    if sha256 != _sha256(stream, size - _DIGITS):
        raise UsageError(_damaged(path))
    return sha256


def _manifest_in(archive: zipfile.ZipFile) -> bytes:
    if archive.getinfo(MANIFEST).file_size > _MOST_OF_A_MANIFEST_BYTES:
        raise ValueError("too large")
    return archive.read(MANIFEST)


def _refuse_harm(
    infos: list[zipfile.ZipInfo], files: Mapping[str, Listed], size_bytes: int
) -> None:
    """Refuse entries that are not what the manifest lists, are no plain files, or grow.

    Raises
    ------
    NotOurs
    """
    names = Counter(info.filename for info in infos)
    twice = [name for name, times in names.items() if times > 1]
    if twice:
        raise NotOurs(msg("holds {name} twice", name=twice[0]))
    for info in infos:
        kind = stat.S_IFMT(info.external_attr >> 16)
        if kind not in (0, stat.S_IFREG) or info.filename.endswith("/"):
            raise NotOurs(msg("{name} in it is no plain file", name=info.filename))
        if info.compress_type != zipfile.ZIP_STORED or info.file_size != info.compress_size:
            raise NotOurs(
                msg("{name} in it is compressed, and soak compresses nothing", name=info.filename)
            )
        listed = files.get(info.filename)
        if listed is None and info.filename not in (ABOUT, MANIFEST):
            raise NotOurs(msg("{name} in it is not in its list", name=info.filename))
        if listed is not None and listed.length_bytes != info.file_size:
            raise NotOurs(msg("{name} in it is not as long as its list says", name=info.filename))
    if missing := sorted(files.keys() - names.keys()):
        raise NotOurs(msg("{name} is in its list and not in it", name=missing[0]))
    if sum(info.file_size for info in infos) > size_bytes:
        raise NotOurs(msg("what it lists is larger than it is itself"))


def _damaged(path: Path) -> Message:
    return msg(
        "{file}: was cut short, changed or damaged since it was written; take another copy of it",
        file=str(path),
    )


def _in_it(path: Path, name: str, what: Message) -> Message:
    return msg("{file}: {name} in it {what}", file=str(path), name=name, what=what)
