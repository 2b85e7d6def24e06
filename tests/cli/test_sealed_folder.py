"""A sealed folder: whoever moves, links, renames or adds something in it gets no pass."""

import hashlib
import json
import os
import shutil
from pathlib import Path

import cv2
import numpy as np
import pytest
from typed_bench import Said, TypedBench, make_bench, typed

from soak.errors import ExitCode
from soak.report.output.files import json_text
from soak.report.signing.sign import new_key, sign_data

BAD = (ExitCode.FAILED, ExitCode.INCOMPLETE)


@pytest.fixture(scope="module")
def signed(tmp_path_factory):
    """Make a bench with a key, a report and a photograph, and the sealed folder of its unit."""
    bench = make_bench(tmp_path_factory.mktemp("signed") / "bench")
    front = bench.path / "front.png"
    cv2.imwrite(str(front), np.full((40, 60, 3), 200, np.uint8))
    soak = next(soak for soak in bench.soaks() if soak.startswith("K1"))
    photo = ("unit", "photo", "K1", str(front), "--what", "front", "--by", "KY")
    export = ("unit", "export", "K1", str(bench.path / "out"))
    for words in (("key",), ("report", soak), photo, export):
        said = say(bench, *words)
        assert said.code == 0, said
    return bench


@pytest.fixture
def bench(signed, tmp_path):
    """Give a copy to tamper with."""
    shutil.copytree(signed.path, tmp_path / "bench")
    return TypedBench(tmp_path / "bench")


@pytest.fixture
def out(bench) -> Path:
    return bench.path / "out"


def say(bench: TypedBench, *words: str) -> Said:
    return typed("--bench", str(bench.path), *words)


def refused(bench: TypedBench, what: Path, sentence: str) -> None:
    """Verify something: no pass, one line with this in it; below it only what the file claims."""
    said = say(bench, "verify", str(what))
    assert said.code == ExitCode.FAILED, said
    first, *more = said.out.splitlines()
    assert "CHANGED" in first
    assert sentence in first, said.out
    assert all(line.startswith("  ") for line in more), said.out


def resealed(out: Path, **changed: object) -> None:
    """Write the manifest anew, signed by a key that nobody knows."""
    data = json.loads((out / "manifest.json").read_text(encoding="utf-8"))
    sealed = sign_data({**data, **changed}, new_key())
    (out / "manifest.json").write_text(json_text(sealed), encoding="utf-8")


def test_the_folder_and_its_manifest_are_whole(bench, out):
    """Named by the folder or by the file, with whatever stands at its end."""
    for what in (str(out), f"{out}/", str(out / "manifest.json")):
        said = say(bench, "verify", what)
        assert said.code == ExitCode.DONE
        assert "signed by this bench" in said.out


@pytest.mark.parametrize("name", ["manifest-1.json", "Manifest.json", "report.json"])
def test_a_manifest_under_another_name_is_no_pass(bench, out, name):
    """Renamed, it would be whole by its signature and check no file."""
    (out / "manifest.json").rename(out / name)
    (out / "card.json").write_text("{}", encoding="utf-8")
    refused(bench, out / name, "is the manifest of a sealed folder under another name")


def test_a_folder_whose_manifest_was_renamed_is_none(bench, out):
    """Asked for the folder: it has no manifest, and says so."""
    (out / "manifest.json").rename(out / "list.json")
    said = say(bench, "verify", str(out))
    assert said.code == ExitCode.USAGE
    assert "neither the folder of a soak nor a sealed one" in said.sentence


def test_a_linked_manifest_is_no_pass(bench, out):
    """A link to the manifest of a whole folder vouches for nothing beside it."""
    other = bench.path / "other"
    other.mkdir()
    (other / "card.json").write_text("{}", encoding="utf-8")
    (other / "manifest.json").symlink_to(out / "manifest.json")
    refused(bench, other, "manifest.json: CHANGED: is a link")
    refused(bench, other / "manifest.json", "is a link")


@pytest.mark.parametrize(
    "content", ["{}", "[1]", "no JSON", '{"files": 3}', '{"files": {}, "unit": "K1"}', ""]
)
def test_other_data_under_its_name_are_no_manifest(bench, out, content):
    """Neither a crash nor a pass."""
    (out / "manifest.json").write_text(content, encoding="utf-8")
    refused(bench, out, "is not the manifest of a sealed folder")


def test_a_signed_report_under_its_name_is_no_manifest(bench, out):
    """The signature is the bench's own, and yet it lists nothing."""
    report = next(out.glob("soaks/*/report.json"))
    shutil.copyfile(report, out / "manifest.json")
    refused(bench, out, "is not the manifest of a sealed folder")


def test_a_folder_sealed_without_a_key_is_no_pass(bench):
    """Nobody vouches for it: code 4; and a file changed in it is still told."""
    shutil.rmtree(bench.path / "key")
    out = bench.path / "unsigned"
    assert "not signed" in say(bench, "unit", "export", "K1", str(out)).out
    said = say(bench, "verify", str(out))
    assert said.code == ExitCode.INCOMPLETE
    assert "holds no signature" in said.out
    (out / "card.json").write_text("{}", encoding="utf-8")
    refused(bench, out, "card.json is not what was sealed")


def linked_file(out: Path) -> str:
    (out / "more.json").symlink_to(out / "card.json")
    return "more.json is no plain file"


def linked_instead(out: Path) -> str:
    (out / "card.json").rename(out.parent / "card.json")
    (out / "card.json").symlink_to(out.parent / "card.json")
    return "card.json is no plain file"


def linked_folder(out: Path) -> str:
    (out / "soaks").rename(out.parent / "soaks")
    (out / "soaks").symlink_to(out.parent / "soaks")
    return "soaks is no plain file"


def added_link_to_a_folder(out: Path) -> str:
    (out / "etc").symlink_to("/etc")
    return "etc is no plain file"


def pipe(out: Path) -> str:
    os.mkfifo(out / "pipe.json")
    return "pipe.json is no plain file"


def second_manifest(out: Path) -> str:
    shutil.copyfile(out / "manifest.json", out / "manifest-2.json")
    return "manifest-2.json was added"


def second_manifest_below(out: Path) -> str:
    shutil.copyfile(out / "manifest.json", out / "soaks" / "manifest.json")
    return "soaks/manifest.json was added"


def hidden(out: Path) -> str:
    (out / ".hidden").write_text("x", encoding="utf-8")
    return ".hidden was added"


def removed(out: Path) -> str:
    file = next(out.glob("photographs/*/*"))
    file.unlink()
    return f"{file.relative_to(out).as_posix()} is gone"


def two_kept(out: Path) -> tuple[Path, Path]:
    """Return two files of evidence that differ."""
    files = sorted(out.glob("soaks/*/kept/*"))
    first = files[0].read_bytes()
    return files[0], next(file for file in files if file.read_bytes() != first)


def two_swapped(out: Path) -> str:
    first, second = two_kept(out)
    content = first.read_bytes()
    shutil.copyfile(second, first)
    second.write_bytes(content)
    return f"{first.name} is not what was sealed"


CHANGES = (
    linked_file,
    linked_instead,
    linked_folder,
    added_link_to_a_folder,
    pipe,
    second_manifest,
    second_manifest_below,
    hidden,
    removed,
    two_swapped,
)


@pytest.mark.parametrize("change", CHANGES, ids=lambda change: change.__name__)
def test_a_folder_in_which_something_was_changed_is_no_pass(bench, out, change):
    """One sentence that names it."""
    refused(bench, out, change(out))


@pytest.mark.parametrize(
    "name", ["../ledger.sqlite", "/etc/hostname", "a/../../ledger.sqlite", "..", "", "C:/x", "a\\b"]
)
def test_a_list_that_leads_out_of_its_folder_is_no_pass(bench, out, name):
    """Even where the hash fits: a stranger's list must not read what is mine."""
    data = json.loads((out / "manifest.json").read_text(encoding="utf-8"))
    victim = out / name if name else out / "card.json"
    digest = hashlib.sha256(victim.read_bytes() if victim.is_file() else b"").hexdigest()
    resealed(out, files={**data["files"], name: digest})
    refused(bench, out, "which is no file of this folder")


def test_a_manifest_that_says_a_thing_twice_is_no_pass(bench, out):
    """JSON readers take the last of two keys; who reads by eye takes the first."""
    file = out / "manifest.json"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace('"unit": "K1",', '"unit": "K2",\n "unit": "K1",', 1))
    refused(bench, out, "its text was changed")


def test_who_seals_swapped_evidence_is_told_by_the_journal_in_it(bench, out):
    """A list made anew fits its files, and not what the sealed journal recorded."""
    kept, other = two_kept(out)
    kept.write_bytes(other.read_bytes())
    data = json.loads((out / "manifest.json").read_text(encoding="utf-8"))
    name = kept.relative_to(out).as_posix()
    digest = hashlib.sha256(kept.read_bytes()).hexdigest()
    resealed(out, files={**data["files"], name: digest})
    said = say(bench, "verify", str(out))
    assert said.code in BAD
    assert f"{kept.name}: is not the file that was recorded" in said.out


@pytest.mark.parametrize("where", ["reports", "photographs", "key"])
def test_an_export_into_the_benchs_own_records_is_refused(bench, where):
    """It would be a part of itself, or lie among what is evidence."""
    into = bench.path / where / "out"
    said = say(bench, "unit", "export", "K1", str(into))
    assert said.code == ExitCode.USAGE
    assert "the bench's own records" in said.sentence
    assert not into.exists()


def test_an_export_through_a_link_into_its_own_soak_is_refused(bench):
    """A link leads where it leads."""
    soak = next((bench.path / "reports").glob("K1-*"))
    (bench.path / "way").symlink_to(soak)
    said = say(bench, "unit", "export", "K1", str(bench.path / "way" / "out"))
    assert said.code == ExitCode.USAGE
    assert not (soak / "out").exists()


def test_an_export_follows_no_link_out_of_a_soak(bench):
    """A link in a soak's folder would carry the private key into what is given away."""
    soak = next((bench.path / "reports").glob("K1-*"))
    (soak / "notes.txt").symlink_to(bench.path / "key" / "bench.key")
    (soak / "more").symlink_to(bench.path / "key")
    out = bench.path / "again"
    said = say(bench, "unit", "export", "K1", str(out))
    assert said.code == ExitCode.INCOMPLETE
    assert "notes.txt: is no plain file and was left out" in said.out
    secret = (bench.path / "key" / "bench.key").read_bytes()
    assert all(secret != file.read_bytes() for file in out.rglob("*") if file.is_file())
