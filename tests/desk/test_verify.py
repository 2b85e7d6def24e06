"""Verify what went with a sale: whole, changed, unknown key; photographs and export."""

import json
import shutil
from pathlib import Path

import cv2
import numpy as np
import pytest
from one_unit_bench import bench_with_k1, soaked_and_reported

from soak.desk import photographs
from soak.desk.trust import unit_export
from soak.desk.trust.qr import read_qr
from soak.desk.trust.verify import verify
from soak.errors import ExitCode, UsageError

FILES = ("report.html", "report-buyer.html", "report-buyer.pdf", "report.json", "journal.sqlite")


@pytest.fixture(scope="module")
def sold(tmp_path_factory) -> Path:
    """Return a bench with one unit soaked for an evening, everything reported."""
    bench = bench_with_k1(tmp_path_factory.mktemp("bench"))
    soaked_and_reported(bench, "K1@left.toml")
    return bench


def soak_folder(bench: Path) -> Path:
    return next((bench / "reports").glob("K*-*"))


@pytest.mark.parametrize("name", FILES)
def test_what_the_bench_wrote_is_whole_and_its_own(sold, name):
    """Each kind of file verifies, naming this bench."""
    found = verify(sold, str(soak_folder(sold) / name))
    assert found.code == ExitCode.DONE
    assert "signed by this bench" in found.text


@pytest.mark.parametrize("name", FILES)
def test_a_byte_changed_in_each_kind_of_file_is_found(sold, tmp_path, name):
    """Forty places spread over each file, one bit changed: never `whole`."""
    copy = tmp_path / "soak"
    shutil.copytree(soak_folder(sold), copy)
    file = copy / name
    file.chmod(0o600)
    content = file.read_bytes()
    for at in range(0, len(content), len(content) // 40 + 1):
        edited = bytearray(content)
        edited[at] ^= 0x10
        file.write_bytes(edited)
        assert verify(sold, str(file)).code in (ExitCode.FAILED, ExitCode.INCOMPLETE), at


def test_a_stranger_sees_whole_but_unknown(sold, tmp_path):
    """Without the bench's public key a page is whole by an unknown key; with it, it is known."""
    page = str(soak_folder(sold) / "report.html")
    public = str(sold / "key" / "bench.pub")
    assert "UNKNOWN" in verify(tmp_path, page).text
    assert verify(tmp_path, page, public).code == ExitCode.DONE


@pytest.mark.parametrize(("width", "quality"), [(390, 60), (390, 95), (1600, 60)])
def test_the_listing_picture_can_be_verified_when_shrunk_and_squeezed(
    sold, tmp_path, width, quality
):
    """At 390 px and JPEG quality 60 the code still says the signed grade and number."""
    picture = cv2.imread(str(soak_folder(sold) / "listing-square.png"))
    scale = width / picture.shape[1]
    small = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    file = tmp_path / "listing.jpg"
    cv2.imwrite(str(file), small, [cv2.IMWRITE_JPEG_QUALITY, quality])
    found = verify(sold, str(file))
    assert found.code == ExitCode.DONE
    assert "grade: ready" in found.more
    assert "compare by eye" in found.text


def test_a_picture_without_a_code_says_so(sold, tmp_path):
    """A plain photograph is not signed, and nothing breaks."""
    file = tmp_path / "photo.png"
    cv2.imwrite(str(file), np.full((50, 50, 3), 127, np.uint8))
    assert verify(sold, str(file)).code == ExitCode.INCOMPLETE
    assert read_qr(b"no picture") == ""


def test_the_private_key_is_nobody_elses_and_in_no_report(sold):
    """Mode 0600; not a line of it stands in what is handed out."""
    private = sold / "key" / "bench.key"
    assert private.stat().st_mode & 0o777 == 0o600
    secret = private.read_text().splitlines()[1].encode()
    for file in soak_folder(sold).iterdir():
        assert file.is_dir() or secret not in file.read_bytes()


def test_an_exported_unit_is_sealed_and_a_changed_file_in_it_is_found(sold, tmp_path):
    """The manifest covers everything: card, journal, report, photographs; nothing may be added."""
    front = tmp_path / "front.png"
    cv2.imwrite(str(front), np.full((40, 60, 3), 200, np.uint8))
    for what in ("before packing", "packed"):
        told = photographs.photograph(sold, "K1", str(front), what=what, by="KY", on="")
        assert "tied to the seal" in told
    out = tmp_path / "out"
    unit_export.export_unit(sold, "K1", str(out))
    manifest = out / "manifest.json"
    listed = json.loads(manifest.read_text())["files"]
    assert {"card.json"} < set(listed)
    assert any(name.startswith("photographs/") for name in listed)
    assert verify(sold, str(manifest)).code == ExitCode.DONE
    (out / "added.txt").write_text("x")
    assert "added.txt was added" in verify(sold, str(manifest)).text
    (out / "added.txt").unlink()
    (out / "card.json").write_text("{}")
    assert "card.json is not what was sealed" in verify(sold, str(manifest)).text


def test_a_photograph_must_be_a_picture(sold, tmp_path):
    """A text file is refused in one sentence and nothing is kept."""
    file = tmp_path / "front.jpg"
    file.write_text("not a picture")
    with pytest.raises(UsageError, match="neither JPEG nor PNG"):
        photographs.photograph(sold, "K1", str(file), what="x", by="", on="")


def test_an_unsigned_report_of_another_unit_is_told_as_such(sold, tmp_path):
    """What nobody signed proves nothing, and it is not even of the unit asked for."""
    data = json.loads((soak_folder(sold) / "report-buyer.json").read_text())
    del data["signature"]
    page = tmp_path / "report-buyer.json"
    page.write_text(json.dumps(data))
    checked = verify(sold, str(page), unit="K77")
    assert checked.code is ExitCode.FAILED
    assert "ANOTHER UNIT" in checked.more[-1]
