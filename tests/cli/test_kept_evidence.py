"""Kept evidence that was changed, swapped, lost or added: each verb that uses it says so."""

import json
import re
import shutil
from pathlib import Path

import pytest
from damaged_evidence import DAMAGES
from typed_bench import Said, TypedBench, make_bench, typed

from soak.errors import ExitCode


@pytest.fixture(scope="module")
def signed(tmp_path_factory):
    """Make the bench, its key, and the whole report of its soaked unit."""
    bench = make_bench(tmp_path_factory.mktemp("signed") / "bench")
    assert say(bench, "key").code == 0
    assert say(bench, "report", soak_of(bench)).code == 0
    return bench


@pytest.fixture
def bench(signed, tmp_path):
    """Give a copy to tamper with."""
    shutil.copytree(signed.path, tmp_path / "bench")
    return TypedBench(tmp_path / "bench")


def say(bench: TypedBench, *words: str) -> Said:
    return typed("--bench", str(bench.path), *words)


def soak_of(bench: TypedBench, tag: str = "K1") -> str:
    return next(soak for soak in bench.soaks() if soak.startswith(tag))


def folder_of(bench: TypedBench) -> Path:
    return bench.path / "reports" / soak_of(bench)


def victim(bench: TypedBench) -> Path:
    """Return a picture that the page shows: the first that was kept."""
    return min((folder_of(bench) / "kept").iterdir())


def damage(bench: TypedBench, name: str) -> str:
    """Damage a picture; return how the sentence about it must begin."""
    do, begins = DAMAGES[name]
    file = victim(bench)
    do(file)
    return begins.format(name=file.name)


def test_whole_evidence_is_told_by_nobody(bench):
    """Untouched, the same four verbs say nothing of it and end well."""
    folder = folder_of(bench)
    assert say(bench, "verify", str(folder)).code == ExitCode.DONE
    shown = say(bench, "show", folder.name)
    made = say(bench, "report", folder.name)
    sealed = say(bench, "unit", "export", "K1", str(bench.path / "out"))
    assert (shown.code, made.code, sealed.code) == (0, 0, 0)
    assert "recorded" not in shown.out + made.out + sealed.out
    assert say(bench, "verify", str(bench.path / "out")).code == ExitCode.DONE


@pytest.mark.parametrize("name", DAMAGES)
def test_verify_says_that_evidence_is_not_what_was_recorded(bench, name):
    """Neither the folder nor its journal is whole: exit code 1, the file named once."""
    sentence = damage(bench, name)
    folder = folder_of(bench)
    for what in (folder, folder / "journal.sqlite"):
        said = say(bench, "verify", str(what))
        assert said.code == ExitCode.FAILED, said
        assert "CHANGED" in said.out
        assert said.out.count(sentence) == 1, said.out


@pytest.mark.parametrize("name", DAMAGES)
def test_show_says_it_below_what_the_journal_says(bench, name):
    """The journal is whole and is shown; the file is named with MIND."""
    sentence = damage(bench, name)
    said = say(bench, "show", soak_of(bench))
    assert said.code == 0
    assert f"MIND: {sentence}" in said.out


@pytest.mark.parametrize("name", DAMAGES)
def test_a_report_says_it_on_every_page_and_ends_with_4(bench, name):
    """It is made, as a new edition, says so first of all, and ends with 4."""
    sentence = damage(bench, name)
    folder = folder_of(bench)
    said = say(bench, "report", folder.name, "--anyway")
    assert said.code == ExitCode.INCOMPLETE, said
    assert f"MIND: {folder.name}: {sentence}" in said.out
    for page in ("report.html", "report-buyer.html", "listing.txt", "report-buyer.json"):
        text = re.sub("<[^>]+>", "", (folder / page).read_text(encoding="utf-8"))
        assert "not what was recorded" in text, page
    assert json.loads((folder / "report.json").read_text(encoding="utf-8"))["edition"] == 2


@pytest.mark.parametrize("name", DAMAGES)
def test_an_export_seals_it_with_what_is_said_of_it(bench, name):
    """What is not as it was recorded is not copied; the sealed list says so, and is no pass."""
    sentence = damage(bench, name)
    out = bench.path / "out"
    said = say(bench, "unit", "export", "K1", str(out))
    assert said.code == ExitCode.INCOMPLETE, said
    assert f"MIND: {soak_of(bench)}: {sentence}" in said.out
    kept = out / "soaks" / soak_of(bench) / "kept"
    assert all(file.is_file() and not file.is_symlink() for file in kept.iterdir())
    checked = say(bench, "verify", str(out))
    assert checked.code == ExitCode.INCOMPLETE, checked
    assert sentence in checked.out


def test_the_folder_of_evidence_itself_is_no_link(bench):
    """The whole folder moved elsewhere and linked back: nobody follows."""
    kept = folder_of(bench) / "kept"
    kept.rename(bench.path / "elsewhere")
    kept.symlink_to(bench.path / "elsewhere")
    said = say(bench, "verify", str(kept.parent))
    assert said.code == ExitCode.FAILED
    assert "kept: is a link" in said.out


def test_what_a_crash_left_without_its_record_is_put_aside_by_resume(bench):
    """A file is durable before its record: a crash between them accuses nobody, loses nothing."""
    folder = bench.path / "reports" / soak_of(bench, "K3")
    (folder / "kept" / "capture-999.jpg").write_bytes(b"written, and then the power went")
    say(bench, "resume", folder.name)
    assert (folder / "unrecorded" / "capture-999.jpg").is_file()
    assert "capture-999" not in say(bench, "show", folder.name).out
