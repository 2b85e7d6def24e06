"""The ledger's file: one SQLite database that several programs may use at a time.

Write-ahead logging with full synchronisation: what was acknowledged survives a power cut. A
writing transaction takes the write lock at its beginning, so that what it checked first
(`is this serial new?`) is still true when it writes. Reading takes no such lock, and needs no room:
where the medium is full, or may not be written, a copy elsewhere is read.

References
----------
SQLite documentation: Write-Ahead Logging; PRAGMA synchronous; Isolation in SQLite.
"""

import shutil
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from tempfile import mkdtemp
from weakref import finalize

from sqlalchemy import (
    URL,
    Connection,
    Engine,
    NullPool,
    create_engine,
    func,
    insert,
    inspect,
    select,
    text,
)
from sqlalchemy.exc import DBAPIError

import soak
from soak.errors import LedgerError, LedgerNotWritten
from soak.ledger.schema import METADATA, STEPS, VERSIONS, Step
from soak.room import is_full, told_full
from soak.words import Message, Number, joined, msg

_RETRY_S = 0.05
_TO_WRITE = "BEGIN IMMEDIATE"
_TO_READ = ("BEGIN", "SELECT count(*) FROM sqlite_schema")  # SQLite begins at the first look


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
        If the file is not a ledger, is of a newer version, or is in use.
    """

    def __init__(self, path: Path, wait_s: float = 10.0, steps: Sequence[Step] = STEPS) -> None:
        self.path = path
        self._wait_s = wait_s
        self._steps = steps
        self._engine = self._read_from = self._engine_of(path)
        self._open()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """Give a connection that sees one unchanging state of the ledger."""
        with ExitStack() as held:
            try:
                connection = held.enter_context(self._transaction(self._read_from, *_TO_READ))
            except LedgerNotWritten as fault:
                self._read_a_copy(fault)
                connection = held.enter_context(self._transaction(self._read_from, *_TO_READ))
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """Give a connection that alone may write; committed at the end, undone on any error.

        Raises
        ------
        LedgerNotWritten
            If another program keeps writing, or the file cannot be written.
        """
        with self._transaction(self._engine, _TO_WRITE) as connection:
            yield connection
        self._read_from = self._engine

    def _engine_of(self, path: Path) -> Engine:
        # One connection a transaction: nothing stays open between two, in any thread.
        return create_engine(
            URL.create("sqlite", database=str(path)),
            poolclass=NullPool,
            connect_args={"timeout": self._wait_s},
            isolation_level="AUTOCOMMIT",  # begin, commit and rollback are said by us, below
        )

    @contextmanager
    def _transaction(self, engine: Engine, *begins: str) -> Iterator[Connection]:
        with self._connected(engine) as connection:
            for begin in begins:
                connection.exec_driver_sql(begin)
            try:
                yield connection
            except BaseException:
                with suppress(DBAPIError):  # a full disk has undone it already
                    connection.exec_driver_sql("ROLLBACK")
                raise
            connection.exec_driver_sql("COMMIT")

    @contextmanager
    def _connected(self, engine: Engine) -> Iterator[Connection]:
        try:
            with engine.connect() as connection:
                connection.exec_driver_sql("PRAGMA foreign_keys = ON")
                connection.exec_driver_sql("PRAGMA synchronous = FULL")
                yield connection
        except DBAPIError as fault:
            error = LedgerNotWritten if _code(fault).startswith(_NOT_WRITTEN) else LedgerError
            raise error(joined(": ", [str(self.path), self._plain(fault)])) from fault

    def _open(self) -> None:
        if not self.path.parent.is_dir():
            raise LedgerError(
                msg(
                    "{path}: there is no folder {parent}; make it, or check --bench",
                    path=str(self.path),
                    parent=str(self.path.parent),
                )
            )
        if self.path.is_dir():
            raise LedgerError(msg("{path}: is a folder; the ledger is a file", path=str(self.path)))
        try:
            if not self._is_up_to_date():
                self._bring_up_to_date(self._engine)
        except LedgerNotWritten as fault:
            self._read_a_copy(fault)

    def _is_up_to_date(self) -> bool:
        """Look without a write lock whether there is nothing to write before the ledger is read."""
        if not self.path.exists():
            return False
        with self._connected(self._engine) as connection:
            self._refuse_foreign(connection)
            logged = connection.scalar(text("PRAGMA journal_mode")) == "wal"
            return logged and self._version(connection) == self._newest

    def _read_a_copy(self, why: LedgerNotWritten) -> None:
        """Read from a copy, made and brought up to date where there is room for one.

        Raises
        ------
        LedgerNotWritten
            If the ledger is only in use, or no copy can be made: what was wrong with the ledger.
        """
        if _code_of(why).startswith(_IN_USE):
            raise why
        try:
            folder = Path(mkdtemp(prefix="soak-"))
            finalize(self, shutil.rmtree, folder, ignore_errors=True)
            copy = folder / self.path.name
            for name in (self.path.name, f"{self.path.name}-wal"):
                if self.path.with_name(name).exists():
                    shutil.copyfile(self.path.with_name(name), copy.with_name(name))
        except OSError:
            raise why from None
        self._read_from = self._engine_of(copy)
        self._bring_up_to_date(self._read_from)

    def _refuse_foreign(self, connection: Connection) -> None:
        tables = inspect(connection).get_table_names()
        if tables and VERSIONS.name not in tables:
            raise LedgerError(
                msg(
                    "{path}: is a database but not a ledger; nothing in it was changed",
                    path=str(self.path),
                )
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

    def _bring_up_to_date(self, engine: Engine) -> None:
        with self._connected(engine) as connection:
            self._refuse_foreign(connection)
            self._log_ahead(connection)
        with self._transaction(engine, _TO_WRITE) as connection:
            schema = self._version(connection)
            if schema == 0:
                METADATA.create_all(connection)
                _stamp(connection, self._newest)
            for version in range(max(schema, 1), self._newest if schema else 0):
                self._steps[version - 1](connection)
                _stamp(connection, version + 1)

    @property
    def _newest(self) -> int:
        return len(self._steps) + 1

    def _version(self, connection: Connection) -> int:
        """Return the version of the ledger's tables; 0 where there are none yet."""
        if not inspect(connection).has_table(VERSIONS.name):
            return 0
        newest = connection.scalar(select(func.max(VERSIONS.c.version))) or 1
        if newest > self._newest:
            raise LedgerError(
                msg(
                    "{path}: was written by a newer soak (ledger version {found}, this one knows "
                    "{newest}); use that one, nothing was changed",
                    path=str(self.path),
                    found=newest,
                    newest=self._newest,
                )
            )
        return newest

    def _plain(self, fault: DBAPIError) -> Message:
        code = _code(fault)
        if code.startswith(_IN_USE):
            return msg(
                "another program has kept the ledger locked for {wait_s} s; close it or try "
                "again, nothing was recorded",
                wait_s=Number(self._wait_s, "g"),
            )
        if code.startswith("SQLITE_FULL") or is_full(self.path.parent, code):
            return msg(
                "{parent}; make room, nothing was recorded", parent=told_full(self.path.parent)
            )
        known = (said for start, said in _SENTENCES.items() if code.startswith(start))
        return next(known, msg("the ledger cannot be used: {why}", why=str(fault.orig)))


def _stamp(connection: Connection, version: int) -> None:
    connection.execute(
        insert(VERSIONS).values(version=version, since_utc=now_utc(), program=soak.__version__)
    )


def _code(fault: DBAPIError) -> str:
    return str(getattr(fault.orig, "sqlite_errorname", ""))


def _code_of(fault: LedgerError) -> str:
    return _code(fault.__cause__) if isinstance(fault.__cause__, DBAPIError) else ""


_IN_USE = ("SQLITE_BUSY", "SQLITE_LOCKED")
_NOT_WRITTEN = (
    *_IN_USE,
    "SQLITE_FULL",
    "SQLITE_READONLY",
    "SQLITE_CANTOPEN",
    "SQLITE_PERM",
    "SQLITE_IOERR",
)


_SENTENCES = {
    "SQLITE_NOTADB": msg("is not a ledger; check the name, nothing was changed"),
    "SQLITE_CORRUPT": msg("the ledger is damaged; keep the file and go on with your latest copy"),
    "SQLITE_READONLY": msg("cannot be written; check the permissions of the file and its folder"),
    "SQLITE_CANTOPEN": msg("cannot be opened; check the permissions of the file and its folder"),
    "SQLITE_PERM": msg("cannot be opened; check the permissions of the file and its folder"),
    "SQLITE_IOERR": msg("the disk failed to read or write; check the disk, nothing was recorded"),
}
