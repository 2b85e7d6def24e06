"""A seller who swaps folders, deletes what failed, puts an old ledger back: what tells of it."""

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from typed_bench import Said, TypedBench, make_bench, soak_brief, typed

from soak.errors import ExitCode


@pytest.fixture(scope="module")
def recorded(tmp_path_factory):
    """Make a bench: K1 and K4 soaked and graded; `old.sqlite` is the ledger before K4's soak."""
    bench = make_bench(tmp_path_factory.mktemp("recorded") / "bench")
    for words in (("key",), ("report", soak_of(bench, "K1").name)):
        assert say(bench, *words).code == 0
    shutil.copyfile(bench.path / "ledger.sqlite", bench.path / "old.sqlite")
    soak_brief(bench.path, "K4", 1e9)
    assert say(bench, "report", soak_of(bench, "K4").name).code == 0
    return bench


@pytest.fixture
def bench(recorded, tmp_path):
    """Give a copy to be dishonest with."""
    shutil.copytree(recorded.path, tmp_path / "bench")
    return TypedBench(tmp_path / "bench")


def say(bench: TypedBench, *words: str) -> Said:
    return typed("--bench", str(bench.path), *words)


def soak_of(bench: TypedBench, tag: str) -> Path:
    return next((bench.path / "reports").glob(f"{tag}-*"))


def swap(bench: TypedBench, *names: str) -> Path:
    """Put what K1's soak has into the folder of K4's; return that."""
    good, bad = soak_of(bench, "K1"), soak_of(bench, "K4")
    for name in names or [file.name for file in good.iterdir()]:
        own = bad / name
        if own.is_dir():
            shutil.rmtree(own)
            shutil.copytree(good / name, own)
        else:
            own.unlink(missing_ok=True)
            shutil.copyfile(good / name, own)
    return bad


VERBS = (("report",), ("judge",), ("show",))


@pytest.mark.parametrize("verb", VERBS, ids=lambda verb: verb[0])
@pytest.mark.parametrize("names", [("journal.sqlite", "seal.json"), ()], ids=["journal", "all"])
def test_another_units_soak_under_a_soaks_name_is_refused(bench, verb, names):
    """The journal says whose it is, whatever its folder is called."""
    bad = swap(bench, *names)
    said = say(bench, *verb, bad.name)
    assert said.code == ExitCode.USAGE
    assert f"holds the journal of soak {soak_of(bench, 'K1').name}" in said.sentence


def test_an_export_seals_that_a_soaks_journal_is_anothers(bench):
    """The inspector reads it in the sealed list."""
    bad = swap(bench)
    out = bench.path / "out"
    assert say(bench, "unit", "export", "K4", str(out)).code == ExitCode.INCOMPLETE
    said = say(bench, "verify", str(out))
    assert said.code == ExitCode.INCOMPLETE
    assert f"{bad.name}: journal.sqlite" in said.out


def test_evidence_of_another_unit_is_no_evidence(bench):
    """Its pictures are named by no record of this journal, or are not what was recorded."""
    bad = swap(bench, "kept")
    for file in (bad / "kept").iterdir():
        file.write_bytes(file.read_bytes() + b"\0")
    said = say(bench, "verify", str(bad))
    assert said.code == ExitCode.FAILED
    assert "is not the file that was recorded" in said.out


def test_a_soak_whose_folder_was_deleted_is_missed(bench):
    """The ledger knows it: report, export and who checks the sealed folder say so."""
    bad = soak_of(bench, "K4")
    shutil.rmtree(bad)
    out = bench.path / "out"
    exported = say(bench, "unit", "export", "K4", str(out))
    assert exported.code == ExitCode.INCOMPLETE
    assert f"MIND: {bad.name} is in the ledger and its folder is gone" in exported.out
    said = say(bench, "verify", str(out))
    assert said.code == ExitCode.INCOMPLETE
    assert f"{bad.name}: is in the ledger and its folder was gone" in said.out


def forgotten(bench: TypedBench, soak_id: str) -> None:
    """Delete a soak from the ledger by hand."""
    with closing(sqlite3.connect(bench.path / "ledger.sqlite")) as ledger:
        for table in ("grades", "bench_wear", "soaks"):
            ledger.execute(f"DELETE FROM {table} WHERE soak_id = ?", (soak_id,))
        ledger.commit()


def old_ledger(bench: TypedBench, soak_id: str) -> None:
    """Put the ledger back as it was before a soak."""
    shutil.copyfile(bench.path / "old.sqlite", bench.path / "ledger.sqlite")


@pytest.mark.parametrize("forget", [forgotten, old_ledger], ids=lambda way: way.__name__)
def test_a_soak_that_the_ledger_forgot_is_told_by_its_folder(bench, forget):
    """Card and export name it, and the sealed folder holds it."""
    bad = soak_of(bench, "K4")
    forget(bench, bad.name)
    sentence = f"{bad.name}: lies in reports/ and the ledger does not know it"
    assert f"MIND: {sentence}" in say(bench, "unit", "show", "K4").out
    out = bench.path / "out"
    exported = say(bench, "unit", "export", "K4", str(out))
    assert exported.code == ExitCode.INCOMPLETE
    assert sentence in exported.out
    assert (out / "soaks" / bad.name / "journal.sqlite").is_file()
    said = say(bench, "verify", str(out))
    assert said.code == ExitCode.INCOMPLETE
    assert sentence in said.out


def test_a_grade_written_into_the_ledger_by_hand_is_on_no_report(bench):
    """A report judges the journals anew, and puts the ledger right."""
    bad = soak_of(bench, "K4")
    with closing(sqlite3.connect(bench.path / "ledger.sqlite")) as ledger:
        ledger.execute("UPDATE grades SET grade = 'ready' WHERE soak_id = ?", (bad.name,))
        ledger.commit()
    assert "not ready" not in listed(bench, "K4")
    say(bench, "report", bad.name)
    assert json.loads((bad / "report.json").read_text(encoding="utf-8"))["grade"]["ready"] is False
    assert "not ready" in listed(bench, "K4")


def listed(bench: TypedBench, tag: str) -> str:
    """Return a unit's line in the list of all."""
    lines = say(bench, "unit", "list").out.splitlines()
    return next(line for line in lines if line.startswith(tag))


def test_many_files_are_told_in_a_few_lines(bench):
    """Each of the first is named, the rest counted."""
    bad = soak_of(bench, "K4")
    for file in (bad / "kept").iterdir():
        file.unlink()
    for number in range(20):
        (bad / "kept" / f"zz-{number:02}.jpg").write_bytes(b"x")
    said = say(bench, "report", bad.name)
    minds = [line for line in said.out.splitlines() if line.startswith("MIND:")]
    assert len(minds) == 13
    assert minds[-1].startswith("MIND: and ")
