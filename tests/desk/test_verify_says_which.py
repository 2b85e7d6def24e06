"""`soak verify` says which unit a file is about, and what the bench knows of it since."""

import shutil
from pathlib import Path

import cv2
import pytest
from one_unit_bench import bench_with_k1, soaked_and_reported
from pypdf import PdfReader, PdfWriter
from typed_bench import typed

from soak.desk.paper import labels
from soak.errors import ExitCode
from soak.report.signing.sign import BenchKey, key_from_pem, new_key, sign_file
from soak.sim.samples import fixture_text

SIGNED = (
    "report.html", "report-buyer.html", "report-buyer.pdf", "report.json", "report-buyer.json",
    "journal.sqlite", "listing-square.png", "listing-portrait.png", "record.png", "record.pdf",
)  # fmt: skip


@pytest.fixture(scope="module")
def bench(tmp_path_factory) -> Path:
    """Return a bench on which K1, serial SP40-1, was soaked for an evening and is ready."""
    made = bench_with_k1(tmp_path_factory.mktemp("bench"))
    soaked_and_reported(made, "K1@left.toml")
    return made


@pytest.fixture
def later(bench, tmp_path) -> Path:
    """Return a copy of the bench, on which something else will happen; its old report is kept."""
    copy = tmp_path / "bench"
    shutil.copytree(bench, copy)
    shutil.copytree(folder_of(copy), tmp_path / "old")
    return copy


def folder_of(bench: Path) -> Path:
    return sorted((bench / "reports").glob("K1-*"))[0]


def told(bench: Path, file: Path, *more: str):
    return typed("--bench", str(bench), "verify", str(file), *more)


def fingerprint(bench: Path) -> str:
    shown = typed("--bench", str(bench), "key").out.splitlines()[0]
    return shown.removeprefix("fingerprint: ")


@pytest.mark.parametrize("name", SIGNED)
def test_what_is_whole_says_which_unit_it_is_about(bench, name):
    """Each kind of file: unit, model, serial as it shows it, grade, edition, day; code 0."""
    said = told(bench, folder_of(bench) / name)
    assert said.code == ExitCode.DONE, said
    assert "whole, signed by this bench" in said.out
    lines = said.out.splitlines()[1:]
    serial = "••••-1" if "buyer" in name or name.endswith("png") else "SP40-1"
    expected = ("unit: K1", "model: Ferrow SP-40", f"serial: {serial}", "grade: ready")
    assert {f"  {line}" for line in (*expected, "edition: 2", "simulated: yes")} <= set(lines)
    assert any(line.startswith("  issued: 20") for line in lines)


@pytest.mark.parametrize("name", ["report-buyer.html", "report.json", "report-buyer.pdf"])
def test_what_was_changed_says_which_unit_it_claims_to_be_unproven(bench, tmp_path, name):
    """A changed file fails, and what it says of itself stands below, named unproven."""
    content = (folder_of(bench) / name).read_bytes()
    file = tmp_path / name
    place = content.index(b"</main>" if name.endswith("html") else b"x", len(content) // 2)
    file.write_bytes(content[:place] + b"y" + content[place + 1 :])
    said = told(bench, file)
    if name.endswith("json"):  # a changed key of an object
        assert "CHANGED" in said.out
    assert said.code == ExitCode.FAILED, said
    assert "It says of itself, unproven:" in said.out
    assert "  unit: K1" in said.out


def test_an_unsigned_page_says_which_unit_it_claims_to_be_unproven(bench, tmp_path):
    """Without a signature: code 4."""
    from soak.report.signing.sign import _FILLED, HOLE

    content = (folder_of(bench) / "report-buyer.html").read_bytes()
    file = tmp_path / "page.html"
    file.write_bytes(_FILLED.sub(HOLE.encode(), content))
    said = told(bench, file)
    assert said.code == ExitCode.INCOMPLETE
    assert "holds no signature" in said.out
    assert "unproven" in said.out
    assert "  unit: K1" in said.out


def test_a_page_that_prints_one_fingerprint_and_is_signed_by_another_is_changed(bench, tmp_path):
    """The words of a genuine page under a forger's key: whatever key he signs with, it fails."""
    from soak.report.signing.sign import _FILLED, HOLE

    forged = tmp_path / "page.html"
    empty = _FILLED.sub(HOLE.encode(), (folder_of(bench) / "report-buyer.html").read_bytes())
    forged.write_bytes(sign_file(empty, new_key()))
    said = told(bench, forged)
    assert said.code == ExitCode.FAILED
    assert f"it prints the fingerprint {fingerprint(bench)} and is signed by another" in said.out


@pytest.mark.parametrize(
    "written",
    [
        lambda printed: printed,
        lambda printed: printed.upper(),
        lambda printed: printed.replace(" ", ""),
        lambda printed: printed.replace(" ", "-"),
        lambda printed: printed.replace(" ", "\u00a0"),
        lambda printed: f" {printed}\n",
    ],
)
def test_the_printed_fingerprint_is_taken_by_a_stranger(bench, tmp_path, written):
    """As it stands on page, paper and picture, in every way people copy it."""
    page = folder_of(bench) / "report-buyer.html"
    printed = fingerprint(bench)
    assert len(printed.split()) == 8
    said = told(tmp_path, page, "--key", written(printed))
    assert said.code == ExitCode.DONE, said
    assert "whole, signed by the key given" in said.out
    picture = folder_of(bench) / "listing-square.png"
    assert told(tmp_path, picture, "--key", written(printed)).code == ExitCode.DONE


def test_another_fingerprint_is_not_taken(bench, tmp_path):
    """One digit off is an unknown key, at the bench itself too: code 4; nonsense is code 2."""
    page = folder_of(bench) / "report-buyer.html"
    printed = fingerprint(bench)
    other = printed[:-1] + ("0" if printed[-1] != "0" else "1")
    for place in (tmp_path, bench):
        said = told(place, page, "--key", other)
        assert said.code == ExitCode.INCOMPLETE
        assert "UNKNOWN" in said.out
    for wrong in ("", " ", printed[:-1], printed + " 0", "g" * 32, printed.split()[0]):
        if wrong.strip():
            assert told(tmp_path, page, "--key", wrong).code == ExitCode.USAGE, wrong


@pytest.mark.parametrize(
    ("unit", "code", "words"),
    [
        ("K1", ExitCode.DONE, "of the unit asked for"),
        ("sp40-1", ExitCode.DONE, "of the unit asked for"),
        ("SP40-2", ExitCode.FAILED, "ANOTHER UNIT"),
        ("K", ExitCode.FAILED, "ANOTHER UNIT"),
    ],
)
def test_a_report_does_not_pass_for_another_unit(bench, unit, code, words):
    """`--unit` takes a tag or serial, whole."""
    said = told(bench, folder_of(bench) / "report.html", "--unit", unit)
    assert said.code == code
    assert words in said.out


def test_a_masked_serial_fits_as_far_as_it_is_shown(bench):
    """The buyer's page shows the end only: that is said; another end is another unit."""
    page = folder_of(bench) / "report-buyer.html"
    fits = told(bench, page, "--unit", "SP40-1")
    assert (fits.code, "as far as it is shown" in fits.out) == (ExitCode.DONE, True)
    for other in ("SP40-2", "SP400-1", "•••••1", ""):
        said = told(bench, page, "--unit", other)
        assert said.code == (ExitCode.FAILED if other else ExitCode.DONE), other


def test_an_older_edition_is_superseded(later, tmp_path):
    """The same soak, reported anew with other words: which edition counts, code 4."""
    (later / "bench.toml").write_text('name = "Kittiwake Yard"\n')
    made = typed("--bench", str(later), "report", folder_of(later).name)
    assert made.code == ExitCode.DONE, made
    said = told(later, tmp_path / "old" / "report-buyer.html")
    assert said.code == ExitCode.INCOMPLETE
    assert "superseded by edition 3" in said.out
    assert told(later, folder_of(later) / "report-buyer.html").code == ExitCode.DONE


def test_an_old_good_report_of_a_unit_that_failed_later_is_not_fine(later, tmp_path):
    """Soaked again in the same job and failed: code 1, which soak and why; else a stranger's 0."""
    bad = later / "fixtures" / "bad.toml"
    bad.write_text(fixture_text("service_port_loses_data"))
    soaked_and_reported(later, "K1@bad.toml")
    page = tmp_path / "old" / "report-buyer.html"
    said = told(later, page)
    assert said.code == ExitCode.FAILED, said
    assert "FAILED SINCE: soak K1-" in said.out
    assert told(tmp_path, page, "--key", fingerprint(later)).code == ExitCode.DONE


def test_a_sale_a_return_and_a_new_job_are_told(later, tmp_path):
    """Sold by this report is fine; come back or opened again, its grade counts no more."""
    page = tmp_path / "old" / "report.html"
    sold = typed("--bench", str(later), "unit", "sold", "K1", "--where", "shop", "--anyway")
    assert sold.code == ExitCode.DONE, sold
    said = told(later, page)
    assert "  sold as this report says, on " in said.out
    assert said.code == ExitCode.DONE
    back = typed("--bench", str(later), "unit", "back", "K1", "no picture")
    assert back.code == ExitCode.DONE, back
    said = told(later, page)
    assert "  came back on " in said.out
    assert "no picture" in said.out
    assert said.code == ExitCode.INCOMPLETE


def test_a_page_signed_by_our_key_for_a_unit_we_do_not_have_says_so(bench, tmp_path):
    """A bench whose ledger was begun anew knows its own key, and no such unit."""
    shutil.copytree(bench / "key", tmp_path / "key")
    (tmp_path / "fixtures" / "models").mkdir(parents=True)
    assert typed("--bench", str(tmp_path), "unit", "list").code == ExitCode.DONE
    said = told(tmp_path, folder_of(bench) / "report.html")
    assert said.code == ExitCode.INCOMPLETE
    assert "knows no unit K1" in said.out


def test_our_own_label_is_a_label_and_not_changed(bench, tmp_path):
    """Picture and paper: not signed, code 4, and it says of itself that it is not."""
    labels.make_label(bench, "K1", "57x32")
    for name in ("K1.png", "K1.pdf"):
        said = told(bench, bench / "labels" / name)
        assert said.code == ExitCode.INCOMPLETE, said
        assert "CHANGED" not in said.out
    assert (
        "is the label of unit K1, which is not signed"
        in told(bench, bench / "labels" / "K1.png").out
    )
    assert "not signed" in PdfReader(bench / "labels" / "K1.pdf").pages[0].extract_text()


def test_a_foreign_code_is_none_of_ours(bench, tmp_path):
    """A code with any other text, an address among them: not signed, never CHANGED."""
    import segno

    for at, text in enumerate(("HELLO", "https://yard.example/x", "https://yard.example/#AAAA")):
        file = tmp_path / f"{at}.png"
        segno.make(text).save(str(file), scale=8)
        said = told(bench, file)
        assert said.code == ExitCode.INCOMPLETE, text
        assert "CHANGED" not in said.out


def test_a_pdf_that_another_program_wrote_again_is_changed(bench, tmp_path):
    """Read and written by a library, every page as before: not what was signed."""
    writer = PdfWriter(clone_from=PdfReader(folder_of(bench) / "report-buyer.pdf"))
    file = tmp_path / "again.pdf"
    writer.write(file)
    assert told(bench, file).code in (ExitCode.FAILED, ExitCode.INCOMPLETE)


def test_a_picture_under_another_key_is_unknown(bench, tmp_path):
    """A forger's picture says the same under his own key: code 4, and the key's fingerprint."""
    from soak.report.signing import token

    own = key_from_pem((bench / "key" / "bench.key").read_bytes(), "key")
    for key, code in ((new_key(), ExitCode.INCOMPLETE), (own, ExitCode.DONE)):
        said = told(tmp_path, picture_by(key, tmp_path, token), "--key", fingerprint(bench))
        assert said.code == code, said
        assert key.fingerprint in said.out


def picture_by(key: BenchKey, folder: Path, token) -> Path:
    """Draw a picture of nothing but the code of a report by a key."""
    from made_up_report import sheet_of

    from soak.report.output.listing import qr_png
    from soak.report.output.privacy import for_buyer

    code = qr_png(token.proof(for_buyer(sheet_of()).report, key).qr)
    file = folder / "code.png"
    file.write_bytes(code)
    picture = cv2.imread(str(file))
    cv2.imwrite(str(file), cv2.resize(picture, None, fx=6, fy=6, interpolation=cv2.INTER_NEAREST))
    return file
