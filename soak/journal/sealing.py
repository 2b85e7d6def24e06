"""The seal on the file itself: read-only, with its SHA-256 beside it.

The chain protects the records. The file's own hash protects the rest as well: bytes of SQLite
that hold no record could be changed without the chain noticing.
"""

import hashlib
from pathlib import Path

from soak.errors import JournalError
from soak.journal.durable import write_durable
from soak.journal.faults import reading_fault, writing_fault
from soak.outside import json_of, read_bytes
from soak.records import canonical_json
from soak.words import msg

FILE = "seal.json"


def make_final(path: Path) -> str:
    """Make a closed journal read-only and write its SHA-256 beside it; return that.

    Raises
    ------
    JournalError
        If the folder cannot be written.
    """
    try:
        path.chmod(0o444)
        digest = _sha256(path)
        seal = {"file": path.name, "sha256": digest, "size_bytes": path.stat().st_size}
        write_durable(path.with_name(FILE), canonical_json(seal) + b"\n")
    except OSError as fault:
        raise writing_fault(path, fault) from None
    return digest


def checked_sha256(path: Path) -> str:
    """Return the SHA-256 of a sealed journal file; empty if no seal lies beside it.

    Raises
    ------
    JournalError
        If the file is not the one that was sealed.
    """
    beside = path.with_name(FILE)
    try:
        seal = json_of(read_bytes(beside))
        expected = str(seal["sha256"])
    except FileNotFoundError:
        return ""
    except OSError as fault:
        raise reading_fault(beside, fault) from None
    except (ValueError, TypeError, KeyError):
        raise JournalError(
            msg("{beside}: is damaged; use a copy of the folder that is whole", beside=str(beside))
        ) from None
    try:
        digest = _sha256(path)
    except OSError as fault:
        raise reading_fault(path, fault) from None
    if digest != expected:
        raise JournalError(
            msg(
                "{path}: is not the file that was sealed: it was changed or damaged since; use "
                "a copy that is whole, or soak the unit again",
                path=str(path),
            )
        )
    return digest


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
