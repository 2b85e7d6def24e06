"""The label and the removable record: what a rule asks stands on them, what is missing is named."""

from io import BytesIO

import cv2
import numpy as np
import pytest
from made_up_jobs import JOBS
from made_up_report import sheet_of
from pypdf import PdfReader

from soak.errors import UsageError
from soak.report.output.slips import code_text, label, record, record_facts

# The Waste Electrical and Electronic Equipment Regulations 2013 (Great Britain), Sch. 9 para 3.
ASKED = {
    "Item": "digital-signage player",
    "Type number": "Ferrow SP-40",
    "Year made": "2019",
    "Vouched for by": "Kittiwake Yard",
    "Address": "4 Slip Lane, Harbour End; bench@kittiwake.example",
    "Result": "Not ready: failed",
    "Date of the test": "2026-03-01",
    "Kinds of test": "picture watched, data written and read back, repeated starts, temperatures",
}


def text_of(pdf: bytes) -> str:
    """Return a PDF's words on one line."""
    return " ".join(" ".join(one.extract_text() for one in PdfReader(BytesIO(pdf)).pages).split())


def test_the_record_holds_what_is_asked_and_the_full_serial():
    """Each point has its line; the serial is not masked; the test of safety is said not done."""
    facts, missing = record_facts(sheet_of().report)
    assert missing == []
    assert {name: value for name, value in facts if name in ASKED} == ASKED
    slip, _ = record(sheet_of().report, "SOAK x")
    text = text_of(slip.pdf)
    assert "SP40-118204" in text
    assert "NOT DONE" in text
    assert "Missing" not in text


@pytest.mark.parametrize(
    ("left_out", "named"),
    [
        ({"address": ""}, "Address"),
        ({"bench": ""}, "Vouched for by"),
    ],
)
def test_what_is_missing_is_named(left_out, named):
    """On the record itself and to the operator."""
    slip, missing = record(sheet_of(**left_out).report, "SOAK x")
    assert missing == [named]
    assert f"Missing: {named}." in text_of(slip.pdf)


def test_the_record_says_how_far_a_unit_was_tested():
    """Who finds the record in the packing reads no more than was claimed."""
    facts, _ = record_facts(JOBS["narrowed"]().report)
    result = {str(name): str(value) for name, value in facts}["Result"]
    assert result == "Ready, as far as tested: zeigt Bilder and startet"


def test_a_record_fits_one_sheet_of_a6():
    """105 x 148 mm (ISO 216) at 72 points an inch, one page."""
    slip, _ = record(sheet_of().report, "SOAK x")
    (page,) = PdfReader(BytesIO(slip.pdf)).pages
    assert float(page.mediabox.width) == pytest.approx(105 * 72 / 25.4, abs=0.5)
    assert float(page.mediabox.height) == pytest.approx(148 * 72 / 25.4, abs=0.5)


@pytest.mark.parametrize("size", [(57.0, 32.0), (62.0, 29.0), (25.0, 12.0), (100.0, 50.0)])
@pytest.mark.parametrize("tag", ["K1", "U-2026-00481-B", "A" * 32])
def test_a_label_of_any_size_carries_a_readable_code(size, tag):
    """One page of the size asked for, its QR code the unit's code."""
    slip = label("Kittiwake Yard", tag, "Ferrow SP-40", "SP40-1017", size)
    (page,) = PdfReader(BytesIO(slip.pdf)).pages
    assert float(page.mediabox.width) == pytest.approx(size[0] * 72 / 25.4, abs=0.5)
    image = cv2.imdecode(np.frombuffer(slip.png, np.uint8), cv2.IMREAD_GRAYSCALE)
    assert image.shape[1] == pytest.approx(size[0] * 12, abs=1)
    if max(image.shape) < 800:
        image = cv2.resize(image, None, fx=3, fy=3, interpolation=cv2.INTER_NEAREST)
    read, *_ = cv2.QRCodeDetector().detectAndDecode(image)
    assert read == code_text(tag)


@pytest.mark.parametrize("size", [(10.0, 10.0), (300.0, 40.0), (57.0, 5.0)])
def test_a_size_that_cannot_be_is_refused(size):
    """One sentence with the sizes that can."""
    with pytest.raises(UsageError, match=r"a label is from 25x12 to 210x297 mm"):
        label("Kittiwake Yard", "K1", "Ferrow SP-40", "", size)
