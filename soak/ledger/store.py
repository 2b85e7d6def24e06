"""The ledger's file: one SQLite database that several programs may use at a time.

Write-ahead logging with full synchronisation: what was acknowledged survives a power cut. A
writing transaction takes the write lock at its beginning, so that what it checked first
(`is this serial new?`) is still true when it writes.

References
----------
SQLite documentation: Write-Ahead Logging; PRAGMA synchronous; Isolation in SQLite.
"""

import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

from sqlalchemy import (
    URL,
    Connection,
    NullPool,
    create_engine,
    func,
    insert,
    inspect,
    select,
)
from sqlalchemy.exc import DBAPIError

import soak
from soak.errors import LedgerError
from soak.ledger.schema import METADATA, STEPS, VERSIONS, Step

_RETRY_S = 0.05


def now_utc() -> str:
    """Return the wall clock's time, RFC 3339."""
    return datetime.now(UTC).isoformat(timespec="seconds")


class Store:
    """Open a ledger file, making it where there is none yet.

    Parameters
    ----------
    path : Path
        The file.
    wait_s : float
        How long to wait for another program's write, s.
    steps : sequence of Step
        What brings older files up to date.

    Raises
    ------
    LedgerError
        If the file is not a ledger, is of a newer version, is in use, or cannot be written.
    """

    def __init__(self, path: Path, wait_s: float = 10.0, steps: Sequence[Step] = STEPS) -> None:
        self.path, self._wait_s, self._steps = path, wait_s, steps
        # One connection a transaction: nothing stays open between two, in any thread.
        self._engine = create_engine(
            URL.create("sqlite", database=str(path)),
            poolclass=NullPool,
            connect_args={"timeout": wait_s},
            isolation_level="AUTOCOMMIT",  # begin, commit and rollback are said by us, below
        )
        self._open()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one unchanging state of the ledger."""
        with self._transaction("BEGIN") as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection that alone may write; committed at the end, undone on any error.

        Raises
        ------
        LedgerError
            If another program keeps writing, or the file cannot be written.
        """
        with self._transaction("BEGIN IMMEDIATE") as connection:
            yield connection

    @contextmanager
    def _transaction(self, begin: str) -> Iterator[Connection]:
        with self._connected() as connection:
            connection.exec_driver_sql(begin)
            try:
                yield connection
            except BaseException:
                with suppress(DBAPIError):  # a full disk has undone it already
                    connection.exec_driver_sql("ROLLBACK")
                raise
            connection.exec_driver_sql("COMMIT")

    @contextmanager
    def _connected(self) -> Iterator[Connection]:
        try:
            with self._engine.connect() as connection:
                connection.exec_driver_sql("PRAGMA foreign_keys = ON")
                connection.exec_driver_sql("PRAGMA synchronous = FULL")
                yield connection
        except DBAPIError as fault:
            raise LedgerError(f"{self.path}: {_plain(fault, self._wait_s)}") from fault

    def _open(self) -> None:
        if not self.path.parent.is_dir():
            raise LedgerError(
                f"{self.path}: there is no folder {self.path.parent}; make it, or check --bench"
            )
        if self.path.is_dir():
            raise LedgerError(f"{self.path}: is a folder; the ledger is a file")
        with self._connected() as connection:
            self._refuse_foreign(connection)
            self._log_ahead(connection)
        with self.writing() as connection:
            self._bring_up_to_date(connection)

    def _refuse_foreign(self, connection: Connection) -> None:
        tables = inspect(connection).get_table_names()
        if tables and VERSIONS.name not in tables:
            raise LedgerError(
                f"{self.path}: is a database but not a ledger; nothing in it was changed"
            )

    def _log_ahead(self, connection: Connection) -> None:
        """Turn write-ahead logging on; SQLite does not wait by itself for that lock."""
        until_s = time.monotonic() + self._wait_s
        while True:
            try:
                connection.exec_driver_sql("PRAGMA journal_mode = WAL")
                return
            except DBAPIError as fault:
                if not _code(fault).startswith("SQLITE_BUSY") or time.monotonic() > until_s:
                    raise
                time.sleep(_RETRY_S)

    def _bring_up_to_date(self, connection: Connection) -> None:
        newest = len(self._steps) + 1
        if not inspect(connection).has_table(VERSIONS.name):
            METADATA.create_all(connection)
            _stamp(connection, newest)
            return
        found = connection.scalar(select(func.max(VERSIONS.c.version))) or 0
        if found > newest:
            raise LedgerError(
                f"{self.path}: was written by a newer soak (ledger version {found}, this one "
                f"knows {newest}); use that one, nothing was changed"
            )
        for version in range(max(found, 1), newest):
            self._steps[version - 1](connection)
            _stamp(connection, version + 1)


def _stamp(connection: Connection, version: int) -> None:
    connection.execute(
        insert(VERSIONS).values(version=version, since_utc=now_utc(), program=soak.__version__)
    )


def _code(fault: DBAPIError) -> str:
    return str(getattr(fault.orig, "sqlite_errorname", ""))


_SENTENCES = {
    "SQLITE_NOTADB": "is not a ledger; check the name, nothing was changed",
    "SQLITE_CORRUPT": "the ledger is damaged; keep the file and go on with your latest copy",
    "SQLITE_FULL": "the disk is full; make room, nothing was recorded",
    "SQLITE_READONLY": "cannot be written; check the permissions of the file and its folder",
    "SQLITE_CANTOPEN": "cannot be opened; check the permissions of the file and its folder",
    "SQLITE_PERM": "cannot be opened; check the permissions of the file and its folder",
    "SQLITE_IOERR": "the disk failed to read or write; check the disk, nothing was recorded",
}


def _plain(fault: DBAPIError, wait_s: float) -> str:
    code = _code(fault)
    if code.startswith(("SQLITE_BUSY", "SQLITE_LOCKED")):
        return (
            f"another program has kept the ledger locked for {wait_s:g} s; close it or try again, "
            "nothing was recorded"
        )
    known = (text for start, text in _SENTENCES.items() if code.startswith(start))
    return next(known, f"the ledger cannot be used: {fault.orig}")
