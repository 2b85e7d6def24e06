"""A ledger that an earlier program wrote, brought up to date: nothing lost, all correctable."""

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from soak.ledger.ledger import Ledger

from .conftest import NOW

DATA = Path(__file__).parents[1] / "data" / "ledgers"
WHO = {"because": "typed wrong", "by": "SM"}


@pytest.fixture
def file(tmp_path):
    """Return a ledger of version 3: intake, repair, sale, come-back for a shock, settled, sold."""
    file = tmp_path / "ledger.sqlite"
    with closing(sqlite3.connect(file)) as plain:
        plain.executescript((DATA / "version-3.sql").read_text(encoding="utf-8"))
    return file


@pytest.fixture
def ledger(file):
    return Ledger(file, now=lambda: NOW)


def entry(ledger, kind, nth=-1):
    return [line.entry for line in ledger.unit_card("S1").lines if line.kind == kind][nth]


def test_an_older_ledger_keeps_all_its_entries_and_their_references(ledger):
    """Rows of the tables that were made anew stand under their old numbers, and no one dangles."""
    with closing(sqlite3.connect(ledger.path)) as plain:
        assert plain.execute("PRAGMA foreign_key_check").fetchall() == []
        assert plain.execute("SELECT entry, sale FROM came_back").fetchall() == [(8, 7)]
        settled = plain.execute("SELECT came_back, found, done FROM settled").fetchall()
        assert settled == [(8, "a loose screw", "")]
    card = ledger.unit_card("S1")
    assert [line.kind for line in card.lines if line.kind != "soak"] == [
        "bought", "job", "job", "repair", "wiped", "sold", "came back", "job", "hazard settled",
        "job", "sold",
    ]  # fmt: skip
    assert (card.unit.state, card.job.job_id) == ("sold", "S1-4")


def test_a_new_file_and_an_older_one_brought_up_to_date_have_the_same_tables(ledger, tmp_path):
    """Which columns a table has does not tell how old its file is."""
    new = Ledger(tmp_path / "new.sqlite")

    def columns(path):
        with closing(sqlite3.connect(path)) as plain:
            names = plain.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
            return {
                name: {row[1:4] for row in plain.execute(f"PRAGMA table_info({name})")}
                for (name,) in names
            }

    assert columns(ledger.path) == columns(new.path)


def test_jobs_of_an_older_ledger_know_what_they_began_with(ledger):
    """Withdrawn, a come-back takes its job along and a repair after an intake takes its own."""
    ledger.withdraw_entry("S1", entry(ledger, "sold"), **WHO)
    ledger.withdraw_entry("S1", entry(ledger, "job"), **WHO)
    ledger.withdraw_entry("S1", entry(ledger, "hazard settled"), **WHO)
    ledger.withdraw_entry("S1", entry(ledger, "came back"), **WHO)
    assert (ledger.current_job("S1").job_id, ledger.find_unit("S1").state) == ("S1-2", "sold")
    ledger.back("S1", complaint="no picture")
    assert ledger.current_job("S1").job_id == "S1-5"
