"""Evidence from a journal file: running, cut off, or sealed."""

import sqlite3
from pathlib import Path

from soak.errors import JournalError
from soak.journal.cleared import cleared
from soak.journal.contents import Contents
from soak.journal.faults import damaged
from soak.journal.kept import NotAsRecorded, content_of, is_plain_name
from soak.journal.reading import ReadsContents
from soak.journal.rows import Damage
from soak.journal.sealing import checked_sha256
from soak.journal.store import FILE, KEPT, stored_rows
from soak.records import KeptFile
from soak.words import msg


class JournalEvidence(ReadsContents):
    """What a journal file says; loaded at the first question, then kept.

    A row that is not what was written is never passed on. With a running or cut-off soak the
    evidence is what is whole so far. The file of a sealed soak must be the one that was sealed.

    Parameters
    ----------
    path : Path
        The journal file.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._contents = Contents()
        self._stale = True
        self._file_sha256 = checked_sha256(path)

    @property
    def file_sha256(self) -> str:
        if self.contents().seal is None:
            return ""
        if not self._file_sha256:  # sealed since it was opened, or its sealing was cut short
            self._file_sha256 = checked_sha256(self.path)
        return self._file_sha256

    def refresh(self) -> None:
        """Have what was written since read at the next question."""
        if self._contents.seal is None:
            self._stale = True

    def contents(self) -> Contents:
        if self._stale:
            self._load()
            self._stale = False
        return self._contents

    def kept_bytes(self, kept: KeptFile) -> bytes:
        folder = self.path.parent / KEPT
        if not is_plain_name(kept.name) or folder.is_symlink():
            raise NotAsRecorded(str(folder / kept.name), msg("does not lie in the soak's folder"))
        return content_of(folder / kept.name, kept.sha256)

    def _load(self) -> None:
        contents = self._contents
        try:
            for row in stored_rows(self.path, contents.next_number - 1):
                contents.add(row)
            contents.check_readings()
        except (Damage, sqlite3.Error) as fault:
            self._contents = Contents()
            raise damaged(self.path, contents.next_number, str(fault)) from None
        if contents.header is None:
            raise damaged(self.path, 1, "there is no header")


def open_evidence(path: Path) -> JournalEvidence:
    """Open a journal for reading, by its file or by the soak's folder.

    Raises
    ------
    JournalError
        If there is none, or its file is not the one that was sealed. Damage within is found, and
        raised, at the first question.
    """
    file = path / FILE if path.is_dir() else path
    if not file.is_file():
        gone = cleared(file.parent)
        if gone is not None:
            raise JournalError(gone.told)
        raise JournalError(
            msg("{file}: there is no such journal; check the name of the soak", file=str(file))
        )
    return JournalEvidence(file)
