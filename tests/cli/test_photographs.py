"""Photographs of a unit: kept without notes, bounded, held to their hash, shown where wanted."""

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np
import pytest
from damaged_evidence import DAMAGES
from exif_notes import GPS_OF_EXIF, with_orientation
from patience import LIMIT_S
from typed_bench import Said, TypedBench, make_bench, typed

from soak.errors import ExitCode
from soak.ledger.ledger import Ledger


@pytest.fixture(scope="module")
def signed(tmp_path_factory):
    """Make the bench, its key, and a photograph of its soaked unit that its details name."""
    bench = make_bench(tmp_path_factory.mktemp("signed") / "bench")
    for words in (("key",), ("report", soak_of(bench).name)):
        assert say(bench, *words).code == 0
    assert keep(bench, photograph(bench, "front.jpg", 200)).code == 0
    name_in_details(bench, "Front")
    return bench


@pytest.fixture
def bench(signed, tmp_path):
    """Give a copy to tamper with."""
    shutil.copytree(signed.path, tmp_path / "bench")
    return TypedBench(tmp_path / "bench")


def say(bench: TypedBench, *words: str) -> Said:
    return typed("--bench", str(bench.path), *words)


def photograph(bench: TypedBench, name: str, light: int) -> Path:
    """Write a photograph as a telephone would: turned, with a position."""
    made = np.full((300, 400, 3), light, np.uint8)
    made[:, :200] //= 4
    jpeg = cv2.imencode(".jpg", made)[1].tobytes()
    file = bench.path / name
    file.write_bytes(jpeg[:2] + GPS_OF_EXIF + with_orientation(6) + jpeg[2:])
    return file


def keep(bench: TypedBench, file: Path, what: str = "front", **more: str) -> Said:
    options = [word for key, value in more.items() for word in (f"--{key}", value)]
    return say(bench, "unit", "photo", "K1", str(file), "--what", what, *options)


def name_in_details(bench: TypedBench, *names: str) -> None:
    bench.write("details/K1-1.toml", f"photographs = {json.dumps(names)}\n")


def kept_of(bench: TypedBench) -> list[Path]:
    return sorted((bench.path / "photographs").rglob("*.jpg"))


def soak_of(bench: TypedBench) -> Path:
    return next((bench.path / "reports").glob("K1-*"))


def test_what_is_kept_is_named_by_its_hash_upright_and_without_a_position(bench):
    """The file's name is its own SHA-256; no word of where it was taken is in it."""
    [kept] = kept_of(bench)
    content = kept.read_bytes()
    assert kept.stem == hashlib.sha256(content).hexdigest()
    assert b"Exif" not in content
    shape = cv2.imdecode(np.frombuffer(content, np.uint8), cv2.IMREAD_IGNORE_ORIENTATION).shape
    assert shape[:2] == (400, 300)


def test_it_is_durable_before_the_ledger_names_it(bench, monkeypatch):
    """File and folders are synced first: a power cut leaves no entry without its picture."""
    synced: list[str] = []
    real = os.fsync

    def fsync(handle: int) -> None:
        synced.append(str(Path(f"/proc/self/fd/{handle}").readlink()))
        real(handle)

    monkeypatch.setattr(os, "fsync", fsync)
    shutil.rmtree(bench.path / "photographs")
    assert keep(bench, photograph(bench, "back.jpg", 90), "back").code == 0
    [kept] = kept_of(bench)
    at = {name: place for place, name in reversed(list(enumerate(synced)))}
    assert str(bench.path) in at
    assert str(bench.path / "photographs") in at
    assert str(kept.parent) in at
    assert any(kept.name in name for name in at)


def test_what_the_ledger_refuses_leaves_no_file(bench):
    """A day in the future, a unit that is not there: nothing is left behind."""
    before = kept_of(bench)
    file = photograph(bench, "back.jpg", 90)
    assert keep(bench, file, "back", on="2999-01-01").code == ExitCode.USAGE
    assert say(bench, "unit", "photo", "K9", str(file), "--what", "x").code == ExitCode.USAGE
    assert keep(bench, file, " ").code == ExitCode.USAGE
    assert kept_of(bench) == before


REFUSED = {
    "nothing in it": (b"", "is empty"),
    "text": (b"no picture", "is neither JPEG nor PNG"),
    "an animation": (b"GIF89a" + bytes(40), "is neither JPEG nor PNG"),
    "half a picture": (cv2.imencode(".jpg", np.eye(300) * 255)[1].tobytes()[:900], "is cut off"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_is_no_whole_picture_is_one_sentence(bench, name):
    """Nothing is kept, and the sentence says what to give."""
    content, why = REFUSED[name]
    file = bench.path / "given.jpg"
    file.write_bytes(content)
    said = keep(bench, file)
    assert said.code == ExitCode.USAGE
    assert why in said.sentence
    assert len(said.err.splitlines()) == 1
    assert len(kept_of(bench)) == 1


HOLDS_MB = """
import sys
from pathlib import Path
sys.argv = ["soak", *sys.argv[1:]]
from soak.cli.main import main
try:
    main()
finally:
    # By its own peak: what `getrusage` tells begins with what its parent held as it was forked.
    status = Path("/proc/self/status").read_text()
    print("MB", int(status.partition("VmHWM:")[2].split()[0]) // 1024)
"""


def test_two_hundred_megapixels_take_no_memory(bench):
    """The real program: one sentence, and less memory than the picture would take (600 MB)."""
    file = bench.path / "large.jpg"
    file.write_bytes(cv2.imencode(".jpg", np.zeros((10_000, 20_000), np.uint8))[1].tobytes())
    words = ["--bench", str(bench.path), "unit", "photo", "K1", str(file), "--what", "x"]
    ended = subprocess.run(
        [sys.executable, "-c", HOLDS_MB, *words],
        capture_output=True,
        text=True,
        check=False,
        timeout=LIMIT_S,
    )
    assert ended.returncode == ExitCode.USAGE
    assert "has 200 megapixels, and at most 64 are taken" in ended.stderr
    assert len(ended.stderr.splitlines()) == 1
    assert int(ended.stdout.split()[-1]) < 300


def test_the_pages_show_it_and_the_listing_has_it(bench):
    """On both pages, in the data with its hash, in the PDF, and as a file to upload."""
    folder = soak_of(bench)
    assert say(bench, "report", folder.name).code == 0
    [kept] = kept_of(bench)
    for page in ("report.html", "report-buyer.html"):
        text = (folder / page).read_text(encoding="utf-8")
        assert 'alt="front"' in text
        assert (f"recorded after soak {folder.name}" in text) == (page == "report.html")
    [told] = json.loads((folder / "report-buyer.json").read_text(encoding="utf-8"))["photographs"]
    assert (told["sha256"], told["tied"]) == (kept.stem, f"recorded after soak {folder.name}")
    assert (folder / "listing-photograph-1.jpg").read_bytes() == kept.read_bytes()
    assert "Photographs: front" in (folder / "listing.txt").read_text(encoding="utf-8")
    scan = kept.read_bytes()[-200:]
    assert scan in (folder / "report-buyer.pdf").read_bytes()


def test_what_nobody_wants_shown_is_shown_nowhere(bench):
    """Without the key in the details no page has it; what an earlier report left goes."""
    folder = soak_of(bench)
    say(bench, "report", folder.name)
    (bench.path / "details" / "K1-1.toml").unlink()
    assert say(bench, "report", folder.name).code == 0
    assert 'alt="front"' not in (folder / "report.html").read_text(encoding="utf-8")
    assert not (folder / "listing-photograph-1.jpg").exists()


def test_a_name_that_no_photograph_has_is_told_with_the_nearest(bench):
    """A mistake in the details, like any other."""
    name_in_details(bench, "frnt")
    said = say(bench, "report", soak_of(bench).name)
    assert said.code == ExitCode.USAGE
    assert "photographs[0]: no photograph of K1 shows 'frnt'" in said.sentence
    assert "did you mean front?" in said.sentence


def test_a_file_that_nobody_recorded_is_told_and_not_copied(bench):
    """Somebody laid it among the photographs by hand."""
    (bench.path / "photographs" / "K1" / "more.jpg").write_bytes(b"more")
    sentence = "photographs/K1/more.jpg: lies among what was recorded, and no record names it"
    assert f"MIND: {sentence}" in say(bench, "unit", "show", "K1").out
    out = bench.path / "out"
    exported = say(bench, "unit", "export", "K1", str(out))
    assert exported.code == ExitCode.INCOMPLETE
    assert sentence in exported.out
    assert not list(out.rglob("more.jpg"))


def test_one_that_was_kept_as_it_came_is_not_shown(bench):
    """Earlier versions kept the telephone's own file, position and all: no page gets that."""
    content = photograph(bench, "old.jpg", 120).read_bytes()
    digest = hashlib.sha256(content).hexdigest()
    inside = f"photographs/K1/{digest[:16]}.jpg"
    (bench.path / inside).write_bytes(content)
    Ledger(bench.path / "ledger.sqlite").photograph("K1", what="old", file=inside, sha256=digest)
    name_in_details(bench, "old")
    folder = soak_of(bench)
    made = say(bench, "report", folder.name)
    assert made.code == ExitCode.INCOMPLETE
    assert "keep it again with `soak unit photo`" in made.out
    assert b"Exif" not in (folder / "report-buyer.pdf").read_bytes()
    assert not (folder / "listing-photograph-1.jpg").exists()


@pytest.mark.parametrize("name", [name for name in DAMAGES if name != "one that nobody named"])
def test_one_that_is_not_what_was_recorded_is_never_shown(bench, name):
    """Card, report and export say so; pages say it in its place, and the report ends with 4."""
    do, begins = DAMAGES[name]
    if name == "swapped":
        keep(bench, photograph(bench, "back.jpg", 90), "back")
    [kept] = [file for file in kept_of(bench) if file.stem == recorded(bench)]
    do(kept)
    sentence = begins.format(name=kept.name)
    assert f"MIND: photographs/K1/{sentence}" in say(bench, "unit", "show", "K1").out
    folder = soak_of(bench)
    made = say(bench, "report", folder.name)
    assert made.code == ExitCode.INCOMPLETE, made
    assert "MIND: not shown: front:" in made.out
    for page in ("report.html", "report-buyer.html"):
        text = (folder / page).read_text(encoding="utf-8")
        assert 'alt="front"' not in text
        assert re.search(r"Not shown: \w+", text)
    assert not (folder / "listing-photograph-1.jpg").exists()
    out = bench.path / "out"
    assert say(bench, "unit", "export", "K1", str(out)).code == ExitCode.INCOMPLETE
    checked = say(bench, "verify", str(out))
    assert checked.code == ExitCode.INCOMPLETE
    assert f"K1: photographs/K1/{sentence}" in checked.out


def recorded(bench: TypedBench) -> str:
    """Return the hash of the photograph that shows the front, as the card tells it."""
    card = say(bench, "unit", "show", "K1").out
    found = re.search(r"front: photographs/K1/([0-9a-f]{64})", card)
    assert found
    return found[1]


def test_a_withdrawn_photograph_is_shown_nowhere(bench):
    """It stays in the ledger and in an export, and no page has it."""
    card = say(bench, "unit", "show", "K1").out
    number = next(line.split()[0] for line in card.splitlines() if "front: photographs" in line)
    withdrawn = say(
        bench, "unit", "withdraw", "K1", number, "--because", "wrong unit", "--by", "KY"
    )
    assert withdrawn.code == 0, withdrawn
    said = say(bench, "report", soak_of(bench).name)
    assert said.code == ExitCode.USAGE
    assert "no photograph of K1 shows 'Front'" in said.sentence


def test_a_photograph_never_goes_behind_a_link(bench):
    """A linked folder would put it where somebody else writes."""
    shutil.rmtree(bench.path / "photographs" / "K1")
    (bench.path / "elsewhere").mkdir()
    (bench.path / "photographs" / "K1").symlink_to(bench.path / "elsewhere")
    said = keep(bench, photograph(bench, "back.jpg", 90), "back")
    assert said.code == ExitCode.USAGE
    assert "it is a link" in said.sentence
    assert list((bench.path / "elsewhere").iterdir()) == []
