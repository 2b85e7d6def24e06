"""Verbs that only read work where nothing can be written, and never wait for a writer."""

import os
import shutil
import sqlite3
from contextlib import closing, contextmanager
from pathlib import Path

import pytest
from plain_user import open_folder, plain_user
from small_disk import fill, read_only, small_disk, why_not
from typed_bench import typed

from soak.report.output.files import USUAL

NEEDS_DISK = pytest.mark.skipif(why_not() != "", reason=why_not() or "possible")
READS = [
    ("show",),
    ("show", "K1"),
    ("show", "K3"),  # cut off: its journal still has its log beside it
    ("show", "K1", "0:00:30"),
    ("judge", "K1"),
    ("judge", "K3"),
    ("judge", "--all"),
    ("causes", "K1"),
    ("unit", "list"),
    ("unit", "show", "K2"),
    ("unit", "seen", "SP40-2O44"),
    ("script", "explain", "scripts/brief.toml", "--model", "ferrow-sp-40"),
]
NAMES = [" ".join(words) for words in READS]


def answers(path: Path) -> dict[str, tuple[int, str]]:
    """Return exit code and output of each verb on a bench."""
    found = {}
    for words in READS:
        said = typed("--bench", str(path), *words)
        found[" ".join(words)] = (said.code, said.out.replace(str(path), "BENCH") + said.err)
    return found


@pytest.fixture(scope="module")
def as_usual(whole_bench, tmp_path_factory):
    """Give what they say where all can be written."""
    path = tmp_path_factory.mktemp("usual") / "bench"
    shutil.copytree(whole_bench.path, path)
    judged(path)
    return answers(path)


def judged(path: Path) -> None:
    """Put the grades of both soaks into the ledger; K3's is put there by nobody else."""
    for soak in ("K1", "K3"):
        typed("--bench", str(path), "judge", soak)


def check(path: Path, as_usual: dict[str, tuple[int, str]]) -> None:
    """Look whether each verb says what it says elsewhere."""
    for name, answer in answers(path).items():
        assert answer == as_usual[name], name


def check_elsewhere(path: Path, elsewhere: Path) -> None:
    """Look whether a report, tables and the journal's seal can be had from there."""
    said = typed("--bench", str(path), "report", "K1", "--to", str(elsewhere / "report"))
    assert said.code == 0, said.err
    assert all((elsewhere / "report" / name).is_file() for name in USUAL)
    said = typed("--bench", str(path), "export", "K1", str(elsewhere / "tables"))
    assert said.code == 0, said.err
    [folder] = (path / "reports").glob("K1-*")
    said = typed("--bench", str(path), "verify", str(folder / "journal.sqlite"))
    assert "is whole by its own seal" in said.out  # no report lies beside it


@contextmanager
def on_disk(whole: Path, tmp_path: Path):
    """Give a copy of the bench on a small disk of its own, its ledger's log not folded in."""
    with small_disk(tmp_path, 30) as disk:
        shutil.copytree(whole, disk / "bench")
        judged(disk / "bench")
        yield disk


@NEEDS_DISK
@pytest.mark.parametrize("state", [fill, read_only], ids=["full", "read-only"])
def test_on_a_full_or_read_only_disk_they_say_what_they_say_elsewhere(
    whole_bench, tmp_path, as_usual, state
):
    """Grades, events, units, the script's promise; a report and tables to another disk."""
    with on_disk(whole_bench.path, tmp_path) as disk:
        state(disk)
        check(disk / "bench", as_usual)
        check_elsewhere(disk / "bench", tmp_path)


def test_where_a_user_may_not_write_they_say_what_they_say_elsewhere(whole_bench, as_usual):
    """The bench of somebody else, readable and no more."""
    with open_folder() as folder:
        path = folder / "bench"
        shutil.copytree(whole_bench.path, path)
        judged(path)
        (folder / "out").mkdir()
        (folder / "out").chmod(0o777)
        for root, folders, files in os.walk(path):
            for name in (*folders, *files):
                mode = 0o555 if name in folders else 0o444
                (Path(root) / name).chmod(mode)
        path.chmod(0o555)
        with plain_user():
            check(path, as_usual)
            check_elsewhere(path, folder / "out")


def test_while_another_program_writes_the_ledger_they_do_not_wait(bench, as_usual):
    """Somebody records a unit, and holds the write lock for long: reading goes on."""
    judged(bench.path)
    with closing(sqlite3.connect(bench.path / "ledger.sqlite", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        assert answers(bench.path) == as_usual
        other.execute("ROLLBACK")


def test_a_grade_that_could_not_be_recorded_is_told_all_the_same(bench):
    """The ledger may not be written: the grade, its exit code, and that it was not recorded."""
    before = typed("--bench", str(bench.path), "judge", "K1").code
    with closing(sqlite3.connect(bench.path / "ledger.sqlite")) as plain:
        plain.execute("DELETE FROM grades")
        plain.commit()
    with closing(sqlite3.connect(bench.path / "ledger.sqlite", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        said = typed("--bench", str(bench.path), "judge", "K1")
        other.execute("ROLLBACK")
    assert said.code == before
    assert "MIND: the grade was not recorded. " in said.out
    assert "kept the ledger locked" in said.out
