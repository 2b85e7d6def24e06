import sqlite3
import subprocess
import sys
from contextlib import closing

import pytest
from patience import LIMIT_S
from plain_user import open_folder, plain_user
from sqlalchemy import text

from soak.errors import LedgerError
from soak.ledger.ledger import Ledger
from soak.ledger.schema import STEPS
from soak.ledger.store import Store

ADD_FORTY = """
import sys
from pathlib import Path
from soak.ledger.ledger import Ledger
ledger = Ledger(Path(sys.argv[1]), wait_s=60)
for number in range(40):
    unit = ledger.add_unit(model="Ferrow SP-40", serial=f"{sys.argv[2]}{number}{'X' * number}")
    ledger.record_repair(unit.tag, what="port resoldered", function="video")
"""


def test_two_programs_writing_at_once_lose_nothing(tmp_path):
    """Desk and page may both record: every unit has its own tag, its job and its repair."""
    path = tmp_path / "ledger.sqlite"
    writers = [
        subprocess.Popen(
            [sys.executable, "-c", ADD_FORTY, str(path), name], stderr=subprocess.PIPE, text=True
        )
        for name in ("AAA", "ZZZ")
    ]
    assert [writer.communicate(timeout=LIMIT_S)[1] for writer in writers] == ["", ""]
    ledger = Ledger(path)
    tags = [unit.tag for unit in ledger.list_units()]
    assert sorted(tags) == sorted(f"U{n}" for n in range(1, 81))
    for tag in tags:
        assert [line.kind for line in ledger.unit_card(tag).lines] == ["bought", "job", "repair"]


def test_a_ledger_that_another_program_keeps_locked_is_said_to_be_so(tmp_path):
    """The operator reads who is in the way, and that nothing was recorded."""
    path = tmp_path / "ledger.sqlite"
    Ledger(path)
    ledger = Ledger(path, wait_s=0.1)
    with closing(sqlite3.connect(path, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(LedgerError, match=r"another program has kept the ledger locked"):
            ledger.add_unit(model="Ferrow SP-40")
        assert ledger.list_units() == []
        other.execute("ROLLBACK")
    assert ledger.add_unit(model="Ferrow SP-40").tag == "U1"


def test_what_is_not_a_ledger_is_refused_and_left_as_it_is(tmp_path):
    """A wrong file name never costs the operator that file."""
    path = tmp_path / "notes.txt"
    content = b"milk, bread, solder\n" * 100
    path.write_bytes(content)
    with pytest.raises(LedgerError, match=r"notes.txt: is not a ledger"):
        Ledger(path)
    assert path.read_bytes() == content


def test_another_database_is_refused_and_left_as_it_is(tmp_path):
    """A journal, or anybody's database, is not turned into a ledger."""
    path = tmp_path / "journal.sqlite"
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE rows (first INTEGER)")
        other.commit()
    content = path.read_bytes()
    with pytest.raises(LedgerError, match="is a database but not a ledger"):
        Ledger(path)
    assert path.read_bytes() == content


def test_a_ledger_of_a_newer_version_is_refused(tmp_path):
    """An old program does not write into what it does not understand."""
    path = tmp_path / "ledger.sqlite"
    Ledger(path)
    with closing(sqlite3.connect(path)) as newer:
        newer.execute("INSERT INTO ledger_version VALUES (99, '2030-01-01', '9.0')")
        newer.commit()
    with pytest.raises(LedgerError, match=r"written by a newer soak \(ledger version 99"):
        Ledger(path)


def add_colour(connection):
    connection.execute(text("ALTER TABLE units ADD COLUMN colour VARCHAR DEFAULT ''"))


def break_off(connection):
    connection.execute(text("ALTER TABLE units ADD COLUMN smell VARCHAR DEFAULT ''"))
    raise LedgerError("the step broke off")


def test_an_older_ledger_is_brought_up_to_date_once(tmp_path):
    """A newer program takes each step exactly once and keeps what was there."""
    path = tmp_path / "ledger.sqlite"
    Ledger(path).add_unit(tag="S1", model="Ferrow SP-40")
    for _ in range(2):
        Store(path, steps=[*STEPS, add_colour])
    with closing(sqlite3.connect(path)) as plain:
        assert plain.execute("SELECT tag, colour FROM units").fetchall() == [("S1", "")]
        versions = plain.execute("SELECT version FROM ledger_version").fetchall()
    assert versions == [(len(STEPS) + 1,), (len(STEPS) + 2,)]


def test_a_step_that_breaks_off_leaves_the_older_ledger_whole(tmp_path):
    """Half an update is no update: the old program can still read the file."""
    path = tmp_path / "ledger.sqlite"
    Ledger(path).add_unit(tag="S1", model="Ferrow SP-40")
    with pytest.raises(LedgerError, match="broke off"):
        Store(path, steps=[*STEPS, add_colour, break_off])
    assert Ledger(path).find_unit("S1").model == "Ferrow SP-40"


def test_a_folder_that_is_not_there_is_named(tmp_path):
    """A wrong --bench is answered with the folder that is missing."""
    with pytest.raises(LedgerError, match=r"there is no folder .*nowhere"):
        Ledger(tmp_path / "nowhere" / "ledger.sqlite")


def test_a_folder_in_place_of_the_file_is_said_to_be_one(tmp_path):
    """The ledger is a file, and the message says so."""
    with pytest.raises(LedgerError, match="is a folder"):
        Ledger(tmp_path)


@pytest.mark.parametrize("name", ["ledger.sqlite", "new.sqlite"])
def test_a_read_only_folder_is_answered_with_its_permissions(name):
    """Who may not write there reads what to check, for a new ledger and for one that exists."""
    with open_folder() as folder:
        Ledger(folder / "ledger.sqlite")
        folder.chmod(0o555)
        words = "check the permissions of the file and its"
        with plain_user(), pytest.raises(LedgerError, match=words):
            Ledger(folder / name).add_unit(model="Ferrow SP-40")


def test_a_damaged_ledger_is_said_to_be_damaged(tmp_path):
    """A page of rubbish in the file is one sentence, not a traceback, and the file is kept."""
    path = tmp_path / "ledger.sqlite"
    ledger = Ledger(path)
    for number in range(60):
        ledger.add_unit(model="Ferrow SP-40", serial=f"{number}{'Y' * number}")
    content = bytearray(path.read_bytes())
    content[4096:] = bytes(255 - byte for byte in content[4096:])
    path.write_bytes(content)
    with pytest.raises(LedgerError, match="damaged; keep the file"):
        Ledger(path).list_units()


def test_what_was_recorded_is_on_the_medium_before_the_call_returns(tmp_path):
    """The file is in write-ahead mode and every connection synchronises in full (SQLite: 2)."""
    store = Store(tmp_path / "ledger.sqlite")
    with store.reading() as connection:
        assert connection.scalar(text("PRAGMA journal_mode")) == "wal"
        assert connection.scalar(text("PRAGMA synchronous")) == 2
        assert connection.scalar(text("PRAGMA foreign_keys")) == 1


def test_an_error_within_a_transaction_undoes_all_of_it(tmp_path):
    """Half an entry is never kept."""
    store = Store(tmp_path / "ledger.sqlite")

    def insert_and_fail():
        with store.writing() as connection:
            connection.execute(
                text("INSERT INTO units VALUES (1, 'S1', '', 'M', NULL, 'on the bench')")
            )
            raise ValueError("changed my mind")

    with pytest.raises(ValueError, match="changed my mind"):
        insert_and_fail()
    with store.reading() as connection:
        assert connection.scalar(text("SELECT count(*) FROM units")) == 0
