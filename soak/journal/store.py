"""The SQLite file: the only place of the journal that speaks SQL."""

import shutil
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, closing, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory

from soak.errors import JournalError, JournalNotWritten
from soak.journal.durable import sync_folder, write_durable
from soak.journal.faults import reading_fault, writing_fault
from soak.journal.rows import Chain, Entry, Event, Row
from soak.records import FORMAT
from soak.words import msg

FILE = "journal.sqlite"
KEPT = "kept"
UNRECORDED = "unrecorded"
"""Folder of files that a crash left without their record: no evidence, and not thrown away."""

_APPLICATION = 0x736F616B
"""`soak` in ASCII: lets `file` and us tell a journal from other SQLite files."""

_BUSY_MS = 10_000
"""A reader holds the file for the second or so that loading takes."""

_TABLE = """
CREATE TABLE rows (
    first INTEGER PRIMARY KEY,
    holds INTEGER NOT NULL,
    kind TEXT NOT NULL,
    body BLOB NOT NULL,
    link BLOB NOT NULL
)"""


class Store:
    """Writes entries to one journal file, each batch in one transaction.

    Parameters
    ----------
    folder : Path
        The soak's folder.
    synced : bool
        True: a batch written is durable on the medium. False: it survives the death of the
        program only, which is enough for a simulated soak, whose repeat is the same to the byte.
    """

    def __init__(self, folder: Path, *, synced: bool) -> None:
        self.path = folder / FILE
        self.chain: Chain = Chain(())
        self._files = folder / KEPT
        self._synced = synced
        self._db = self._open()

    def _open(self) -> sqlite3.Connection:
        try:
            self._files.mkdir(parents=True, exist_ok=True)
            db = sqlite3.connect(self.path, isolation_level=None, check_same_thread=False)
            db.execute(f"PRAGMA busy_timeout = {_BUSY_MS}")
            db.execute("PRAGMA journal_mode = WAL")
            # FULL syncs the write-ahead log at each commit; NORMAL was measured to lose
            # acknowledged records in a power cut.
            db.execute(f"PRAGMA synchronous = {'FULL' if self._synced else 'NORMAL'}")
            return db
        except (OSError, sqlite3.Error) as fault:
            raise writing_fault(self.path, fault) from None

    def begin(self, chain: Chain, entries: Sequence[Entry]) -> None:
        """Make the table and write the first rows, all or nothing."""
        self.chain = chain
        try:
            self._db.execute(f"PRAGMA application_id = {_APPLICATION}")
            self._db.execute(f"PRAGMA user_version = {FORMAT}")
            self._db.execute("BEGIN IMMEDIATE")
            self._db.execute(_TABLE)
            self._insert(entries)
            self._db.execute("COMMIT")
            for folder in (self._files, self.path.parent, self.path.parent.parent):
                sync_folder(folder)
        except (OSError, sqlite3.Error) as fault:
            raise writing_fault(self.path, fault) from None

    def write(self, entries: Sequence[Entry]) -> None:
        """Write entries: files first, so that no record names a file that is not there.

        Raises
        ------
        JournalError
            If that fails; nothing of the batch is then in the journal, and it may be tried again.
        """
        number = self.chain.next_number
        link = self.chain.link
        try:
            for entry in entries:
                if isinstance(entry, Event) and entry.file_name:
                    path = self._files / entry.file_name
                    write_durable(path, entry.file_data, sync=self._synced)
            self._db.execute("BEGIN IMMEDIATE")
            self._insert(entries)
            self._db.execute("COMMIT")
        except (OSError, sqlite3.Error) as fault:
            if self._db.in_transaction:
                self._db.rollback()
            self.chain.next_number = number
            self.chain.link = link
            raise writing_fault(self.path, fault) from None

    def _insert(self, entries: Sequence[Entry]) -> None:
        self._db.executemany("INSERT INTO rows VALUES (?, ?, ?, ?, ?)", self.chain.rows(entries))

    def leave_wal(self) -> None:
        """Move everything into the one file and close it; it needs no recovery from now on."""
        try:
            # EXTRA also syncs the folder once the rollback journal of that step is deleted; with
            # FULL a power cut was seen to bring it back.
            self._db.execute("PRAGMA synchronous = EXTRA")
            busy, *_ = self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
            (mode,) = self._db.execute("PRAGMA journal_mode = DELETE").fetchone()
        except sqlite3.Error as fault:
            raise writing_fault(self.path, fault) from None
        finally:
            self.close()
        if busy or mode != "delete":
            raise JournalNotWritten(
                msg(
                    "{path}: another program holds the journal open and it cannot be sealed; close "
                    "that program, then resume the soak to seal it",
                    path=str(self.path),
                )
            )

    def close(self) -> None:
        """Close the file; may be called again."""
        self._db.close()


def stored_rows(path: Path, after: int = 0) -> Iterator[Row]:
    """Yield the rows of a journal behind a record number; the file is not written.

    Where a writer died, SQLite recovers from its write-ahead log, whose damaged or incomplete
    end it leaves out.

    Raises
    ------
    JournalError
        If the file is missing, no journal, or of a newer format.
    sqlite3.DatabaseError
        If it turns out damaged while rows are read.
    """
    with read_only(path) as db:
        _check_file(db, path)
        rows = db.execute("SELECT * FROM rows WHERE first > ? ORDER BY first", (after,))
        yield from map(Row._make, rows)


@contextmanager
def read_only(path: Path) -> Iterator[sqlite3.Connection]:
    """Open an SQLite file to read; one whose log has to be played back first, by a copy.

    Raises
    ------
    JournalError
        If it cannot be opened.
    """
    with ExitStack() as held:
        try:
            db = held.enter_context(closing(_connected(path)))
        except sqlite3.Error as fault:
            if not _needs_copy(fault):
                raise reading_fault(path, fault) from None
            db = held.enter_context(closing(_recovered_copy(path, held)))
        yield db


def _connected(path: Path, mode: str = "ro") -> sqlite3.Connection:
    """Open an SQLite file and read its first page.

    Raises
    ------
    sqlite3.Error
        If it is none, or cannot be read.
    """
    db = sqlite3.connect(f"{path.absolute().as_uri()}?mode={mode}", uri=True)
    try:
        db.execute(f"PRAGMA busy_timeout = {_BUSY_MS}")
        db.execute("PRAGMA cell_size_check = ON")
        db.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except BaseException:
        db.close()
        raise
    return db


def _needs_copy(fault: sqlite3.Error) -> bool:
    """Say whether SQLite could read the journal if only it were allowed, or had room, to write.

    That is so where a disk is full to the last byte (the log is read by way of a shared index),
    where the medium is read-only, and where a power cut came within the sealing.
    """
    name = getattr(fault, "sqlite_errorname", "")
    return name.startswith(("SQLITE_IOERR_SHM", "SQLITE_READONLY", "SQLITE_CANTOPEN"))


def _recovered_copy(path: Path, held: ExitStack) -> sqlite3.Connection:
    """Recover a copy elsewhere, so that the original stays as the crash left it.

    Raises
    ------
    JournalError
        If that cannot be done.
    """
    try:
        folder = Path(held.enter_context(TemporaryDirectory(prefix="soak-")))
        for name in (path.name, f"{path.name}-wal", f"{path.name}-journal"):
            if path.with_name(name).exists():
                shutil.copyfile(path.with_name(name), folder / name)
        return _connected(folder / path.name, "rw")
    except (OSError, sqlite3.Error) as fault:
        raise reading_fault(path, fault) from None


def _check_file(db: sqlite3.Connection, path: Path) -> None:
    try:
        (application,) = db.execute("PRAGMA application_id").fetchone()
        (version,) = db.execute("PRAGMA user_version").fetchone()
        table = db.execute("SELECT 1 FROM sqlite_schema WHERE name = 'rows'").fetchone()
    except sqlite3.Error as fault:
        raise reading_fault(path, fault) from None
    if application == _APPLICATION and version not in (0, FORMAT):
        raise JournalError(
            msg(
                "{path}: is of journal format {version}, this soak reads {format}; use the "
                "soak that wrote it",
                path=str(path),
                version=version,
                format=FORMAT,
            )
        )
    if application != _APPLICATION or version < 1 or table is None:
        raise JournalError(
            msg(
                "{path}: is not a whole journal of soak: damaged, cut off before the soak "
                "began, or copied without its {name}-wal",
                path=str(path),
                name=path.name,
            )
        )
