"""The guard's own log: JSON lines, each with the hash of the one before, each on disk at once.

It tells what the guard did when there was no runner any more to keep the journal. A line is
written whole or not at all as far as a reader is concerned: a torn last line is what a crash
leaves and is cut off when the log goes on.
"""

import hashlib
import os
import threading
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from soak.errors import JournalError
from soak.outside import json_of
from soak.records import Json, canonical_json
from soak.words import msg

FILE = "guard.jsonl"
_NOTHING = "0" * 64


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the log.

    Attributes
    ----------
    number : int
        From 1, without gaps.
    t_s : float
        Soak time in s.
    utc : str
        Wall clock, RFC 3339.
    what : str
        A mark's `what`, or `guard begins`, `runner gone`, `guard ends`.
    sha256 : str
        Hash over the line before and this one.
    """

    number: int
    t_s: float
    utc: str
    what: str
    detail: Json
    sha256: str


class GuardLog:
    """The log of one soak, opened for writing; goes on where an earlier session stopped.

    Raises
    ------
    JournalError
        If the log is damaged before its end, or the folder cannot be written.
    """

    def __init__(self, folder: Path) -> None:
        self.path = folder / FILE
        self._one_at_a_time = threading.Lock()
        try:
            data = self.path.read_bytes() if self.path.exists() else b""
            entries, whole_bytes = _parse(self.path, data)
            self._handle = os.open(self.path, os.O_RDWR | os.O_CREAT, 0o644)
            os.ftruncate(self._handle, whole_bytes)
            os.lseek(self._handle, 0, os.SEEK_END)
        except OSError as fault:
            raise JournalError(
                msg(
                    "{path}: cannot be written: {why}", path=str(self.path), why=str(fault.strerror)
                )
            ) from None
        self._number = entries[-1].number if entries else 0
        self._head = entries[-1].sha256 if entries else _NOTHING

    def append(self, t_s: float, utc: str, what: str, detail: Json) -> None:
        """Add a line; return when it is on the disk.

        Raises
        ------
        OSError
            If it cannot be written.
        """
        with self._one_at_a_time:
            self._append({"t_s": round(t_s, 3), "utc": utc, "what": what, "detail": dict(detail)})

    def _append(self, said: Json) -> None:
        body = {"number": self._number + 1, **said}
        digest = _digest(self._head, body)
        line = canonical_json({**body, "sha256": digest}) + b"\n"
        at = os.lseek(self._handle, 0, os.SEEK_CUR)
        try:
            if os.write(self._handle, line) != len(line):
                raise OSError(28, "no space left on device")
            os.fsync(self._handle)
        except OSError:
            os.ftruncate(self._handle, at)
            os.lseek(self._handle, at, os.SEEK_SET)
            raise
        self._number = self._number + 1
        self._head = digest

    def head(self) -> Json:
        """Return what the seal names: file, number of lines, hash of the last."""
        return {"file": FILE, "records": self._number, "sha256": self._head}

    def close(self) -> None:
        """Let go of the file; twice is safe."""
        if self._handle >= 0:
            os.close(self._handle)
            self._handle = -1


def read_log(folder: Path) -> Sequence[Entry]:
    """Return the lines of a soak's guard log; none if there is no log.

    Raises
    ------
    JournalError
        If a line before the last was changed or is missing.
    """
    path = folder / FILE
    if not path.exists() and not path.is_symlink():
        return []
    from soak.journal.kept import plain_content  # the guard itself needs nothing of it

    return _parse(path, plain_content(path))[0]


def check_log(folder: Path, told: Json) -> None:
    """Check the log against what the seal says of it; lines after that are allowed.

    Raises
    ------
    JournalError
        If it is not the log that the seal names.
    """
    if not told:
        return
    entries = read_log(folder)
    number = int(told["records"])
    head = entries[number - 1].sha256 if 0 < number <= len(entries) else _NOTHING
    if len(entries) < number or head != told["sha256"]:
        raise JournalError(
            msg(
                "{folder}: is not the log that the seal names: it was changed or shortened "
                "since; use a copy of the folder that is whole",
                folder=str(folder / FILE),
            )
        )


def _parse(path: Path, data: bytes) -> tuple[list[Entry], int]:
    """Return the entries and how many bytes they take; a torn last line is left out."""
    entries: list[Entry] = []
    head = _NOTHING
    whole_bytes = 0
    lines = data.split(b"\n")
    for at, line in enumerate(lines[:-1]):
        try:
            body = json_of(line)
            digest = body.pop("sha256")
            good = digest == _digest(head, body) and body["number"] == at + 1
            entry = Entry(**body, sha256=digest)
        except (ValueError, TypeError, KeyError, AttributeError):
            good = False
        if not good:
            raise JournalError(
                msg(
                    "{path}: line {at} is not what the guard wrote; use a copy that is whole",
                    path=str(path),
                    at=at + 1,
                )
            )
        entries.append(entry)
        head = digest
        whole_bytes = whole_bytes + len(line) + 1
    return entries, whole_bytes


def _digest(head: str, body: Json) -> str:
    return hashlib.sha256(head.encode() + canonical_json(body)).hexdigest()
