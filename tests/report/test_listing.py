"""The listing picture: refused where it would mislead, legible on a phone, its code readable."""

import re
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np
import pytest
import segno
from made_up_jobs import JOBS, failing, good, told_of
from made_up_report import RUNS, context, findings, judged, night, poisoned, sheet_of

from soak.desk.paper.jpeg import to_jpeg
from soak.language import language
from soak.report.contents.sheet import gather
from soak.report.output import listing
from soak.report.output.files import Outputs, contents
from soak.report.output.listing import (
    MOST_BYTES,
    SIZES,
    Proof,
    listing_text,
    picture,
    plain_proof,
    qr_png,
)
from soak.report.output.privacy import for_buyer
from soak.rules.core.verdict import Verdict
from soak.words import just, msg

TEMPLATE = Path(listing.__file__).parents[1] / "templates" / listing.TEMPLATE


def ready_sheet(**changed):
    """Return the sheet of a night in which all was met."""
    good = tuple(one for one in findings() if one.verdict is Verdict.MET)
    met = {"ready": True, "because": "all met", "reason": just("All met."), "points": ()}
    judgement = judged(findings=good, **met)
    return gather(judgement, [night()], context(**changed))


def pixels(data: bytes) -> np.ndarray:
    """Return a picture's grey values, shape (height, width)."""
    return cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_GRAYSCALE)


def made(sheet, **how):
    """Return the files of a sheet and what the operator is told."""
    return contents(sheet, Outputs(everything=True, to_jpeg=to_jpeg, **how))


@pytest.mark.parametrize("shape", SIZES)
def test_both_shapes_have_their_size_and_travel_light(shape):
    """1600 px long edge, at most 1 MB, as PNG and as JPEG."""
    files, _ = made(ready_sheet())
    for ending in ("png", "jpg"):
        data = files[f"listing-{shape}.{ending}"]
        assert len(data) <= MOST_BYTES
        height, width = pixels(data).shape
        assert (width, height) == SIZES[shape]
        assert max(width, height) == 1600


def test_no_picture_is_made_of_a_unit_that_is_not_ready():
    """It is refused with the reason and the way around; the other files are made."""
    files, told = made(sheet_of())
    assert not [name for name in files if name.startswith("listing-")]
    assert told == ["no listing picture: not ready: failed; --anyway makes one that says NOT READY"]
    assert "report-buyer.pdf" in files


def test_an_old_picture_goes_when_the_unit_is_not_ready_any_more(tmp_path):
    """A picture that says ready does not lie beside a report that says failed."""
    from soak.report.output.files import write_report

    how = Outputs(everything=True, to_jpeg=to_jpeg)
    write_report(ready_sheet(), tmp_path, how)
    assert len(list(tmp_path.glob("listing-*"))) == 4
    write_report(sheet_of(), tmp_path, how)
    assert list(tmp_path.glob("listing-*")) == []


def watched(monkeypatch):
    """Return the list that every template's data will be put into."""
    given = []
    real = listing.set_pictures

    def spy(template, data, pictures, scale=1.0):
        given.append(data)
        return real(template, data, pictures, scale)

    monkeypatch.setattr(listing, "set_pictures", spy)
    return given


def words_given(monkeypatch, sheet, shape="portrait", **how):
    """Return the data that the template was given for a picture."""
    given = watched(monkeypatch)
    report = for_buyer(sheet).report
    picture(report, shape, proof=plain_proof(report), **how)
    return given[-1]


def test_not_ready_is_as_large_as_ready(monkeypatch):
    """The same line of the template prints both: same size, same weight, other words."""
    good = words_given(monkeypatch, ready_sheet(), shown_ready=True)
    bad = words_given(monkeypatch, sheet_of(), shown_ready=False)
    assert (good["grade"], bad["grade"]) == ("Ready for sale", "NOT READY")
    assert bad["under"] == ""  # what failed stands in a block as large as the others
    assert bad["failed"]
    assert not good["failed"]
    assert TEMPLATE.read_text(encoding="utf-8").count("data.grade") == 1


def test_a_unit_that_only_people_judged_says_so_under_its_grade(monkeypatch):
    """In the large bold line that says why another one is not ready."""
    sheet = ready_sheet()
    by_whom = msg("by hand, by {who}", who="SM")
    grade = sheet.report.grade.model_copy(update={"judged_by": by_whom})
    report = sheet.report.model_copy(update={"grade": grade})
    told = words_given(monkeypatch, replace(sheet, report=report), shown_ready=True)
    assert told["under"] == "Judged by hand, by SM, not by instruments"


def test_no_text_is_under_3_percent_of_the_width():
    """Every size in the template is the least size, which is 3 % of the width, or a larger one."""
    source = TEMPLATE.read_text(encoding="utf-8")
    assert "#let least = data.width * 0.0305 * data.scale * 1pt" in source
    assert all(scale >= 1.0 for _, scale in listing._TRIED)
    sizes = re.findall(r"size: ([^,)]+)", source)
    assert len(sizes) >= 5
    for size in sizes:
        factor = re.fullmatch(r"least(?: \* ([\d.]+))?", size.strip())
        assert (factor and float(factor[1] or 1) >= 1) or size.startswith("data.width * ")


def test_what_was_not_tested_is_printed_like_what_was(monkeypatch):
    """Same size, same list; what does not fit is counted, never dropped unsaid."""
    data = words_given(monkeypatch, sheet_of(), shown_ready=False)
    assert any("Plays sound" in one for one in data["untested"])
    many = for_buyer(sheet_of()).report
    many = many.model_copy(update={"not_tested": many.not_tested * 6})
    left = [one.what for one in many.not_tested]
    some = listing._some(left, 7, language("en"), 62, brief=False)
    assert some[-1] == f"and {len(many.not_tested) - 7} more, named in the report"
    all_of_eight = listing._some(left[:8], 7, language("en"), 62, brief=False)
    assert not any("more, named" in one for one in all_of_eight)
    assert len(all_of_eight) == 8


def test_the_picture_never_shows_the_full_serial(monkeypatch):
    """Even where the bench shows it on the page."""
    sheet = ready_sheet(show_serial=True)
    assert "SP40-118204" in made(sheet, show_serial=True)[0]["report-buyer.html"].decode()
    given = watched(monkeypatch)
    made(sheet, show_serial=True)
    assert given
    assert "SP40-118204" not in str(given)
    assert "204" in given[0]["which"]


@pytest.mark.parametrize("shape", SIZES)
@pytest.mark.parametrize("how", ["as made", "390 px wide", "JPEG quality 60"])
def test_the_code_can_be_read(shape, how):
    """A phone's thumbnail and a market place's compression leave the QR code readable."""
    report = for_buyer(ready_sheet()).report
    proof = plain_proof(report)
    image = pixels(picture(report, shape, proof=proof, shown_ready=True))
    if how == "390 px wide":
        size = (390, round(390 * image.shape[0] / image.shape[1]))
        image = cv2.resize(image, size, interpolation=cv2.INTER_AREA)
        image = cv2.resize(image, None, fx=3, fy=3, interpolation=cv2.INTER_CUBIC)
    if how == "JPEG quality 60":
        image = cv2.imdecode(
            cv2.imencode(".jpg", image, [cv2.IMWRITE_JPEG_QUALITY, 60])[1], cv2.IMREAD_GRAYSCALE
        )
    read, *_ = cv2.QRCodeDetector().detectAndDecode(image)
    assert read == proof.qr


def test_without_a_code_the_short_code_still_stands_there(monkeypatch):
    """--no-qr leaves the square out and keeps the words."""
    report = for_buyer(ready_sheet()).report
    shown = picture(report, "square", proof=Proof("", report.report_id), shown_ready=True)
    read, *_ = cv2.QRCodeDetector().detectAndDecode(pixels(shown))
    assert read == ""
    files, _ = made(ready_sheet(), qr=False)
    assert "listing-square.png" in files


# ISO/IEC 18004:2015, table 7: characters that version 10-M holds, in numeric, alphanumeric and
# byte mode; as printed in public copies of the table.
@pytest.mark.parametrize(
    ("content", "fits"),
    [("1" * 513, True), ("1" * 514, False), ("A" * 311, True), ("A" * 312, False),
     ("a" * 213, True), ("a" * 214, False)],
)  # fmt: skip
def test_the_code_holds_as_much_as_the_standard_says(content, fits):
    """A version 10-M code takes the standard's number of characters, and not one more."""
    if fits:
        assert segno.make(content, version=10, error="m", boost_error=False).version == 10
    else:
        with pytest.raises(segno.DataOverflowError):
            segno.make(content, version=10, error="m", boost_error=False)


def test_the_code_has_its_quiet_zone():
    """Four white modules on each side (ISO/IEC 18004, quiet zone), black ones inside."""
    code = pixels(qr_png("SOAK K1-1/1/0123456789"))
    inner = code[4:-4, 4:-4]
    assert code.sum() - inner.sum() == 255 * (code.size - inner.size)
    assert (inner[0, 0], inner[0, -1], inner[-1, 0]) == (0, 0, 0)


@pytest.mark.parametrize("words", [RUNS, "#panic(1)", "A" * 10_000, "鷗" * 100])
def test_hostile_text_still_makes_a_picture(words):
    """Whatever was typed, a picture comes out or one sentence says why not."""
    report = for_buyer(poisoned(words)).report
    shown = picture(report, "portrait", proof=plain_proof(report), shown_ready=False)
    assert pixels(shown).shape == (1600, 1200)
    grade = report.grade.model_copy(update={"ready": True, "as_far_as": just(words)})
    narrowed = report.model_copy(update={"grade": grade})
    shown = picture(narrowed, "portrait", proof=plain_proof(report), shown_ready=True)
    assert pixels(shown).shape == (1600, 1200)


def test_a_narrowed_claim_stands_in_the_picture_as_large_as_ready(monkeypatch):
    """The same line of the template says so, and right below it which functions were tested."""
    given = watched(monkeypatch)
    report = for_buyer(JOBS["narrowed"]()).report
    picture(report, "portrait", proof=plain_proof(report), shown_ready=True)
    assert given[-1]["grade"] == "Ready, as far as tested"
    assert given[-1]["under"] == "As far as tested: zeigt Bilder and startet"


def test_the_text_to_paste_says_what_the_page_says():
    """Grade, what was and was not tested, safety; no claim for a unit that is not ready."""
    report = for_buyer(sheet_of()).report
    text = listing_text(report, proof=plain_proof(report))
    assert "Not ready: failed" in text.splitlines()[1]
    for part in ("What was NOT tested:", "- Plays sound", "NOT DONE"):
        assert part in text
    assert "repaired and tested" not in text
    assert report.report_id in text
    assert "118204" not in text


def failed_sheet():
    """Return the sheet of a night with losses, a failed start, wrong data and too much heat."""
    return JOBS["failed"]()


@pytest.mark.parametrize("shape", SIZES)
def test_what_failed_has_a_block_as_large_as_the_others(monkeypatch, shape):
    """Same entries, same sizes; none is dropped unsaid, and the worst stands first."""
    given = words_given(monkeypatch, failed_sheet(), shape, shown_ready=False)
    failed = for_buyer(failed_sheet()).report.failed
    assert given["failed"][0] == str(failed[0])
    left = len(failed) - (len(given["failed"]) - 1)
    assert given["failed"][-1] == f"and {left} more, named in the report"
    source = TEMPLATE.read_text(encoding="utf-8")
    assert 'entries(say("FAILED"), data.failed' in source
    assert source.count("#let entries") == 1  # one look for what failed, was tested and was not


def test_the_text_and_the_page_name_what_failed_before_what_was_tested():
    """Under a title of its own, and not once more among what was tested."""
    from soak.report.output.html import page

    sheet = for_buyer(failed_sheet())
    text = listing_text(sheet.report, proof=plain_proof(sheet.report))
    failed = text[text.index("What FAILED:") : text.index("What was tested, and for how long:")]
    assert "- 5 breaks in the picture in 4 h" in failed
    assert (
        "not met"
        not in text[text.index("What was tested, and for how long:") : text.index("Known defects")]
    )
    html = page(sheet)
    assert html.index("What FAILED</h2>") < html.index("What was tested</h2>")
    shown = html[html.index('id="h-failed"') : html.index('id="h-tested"')]
    assert shown.count("finding not-met") == 7
    assert "finding not-met" not in html[html.index('id="h-tested"') :]


def test_of_a_unit_that_did_not_fail_there_is_no_such_block():
    """Nothing failed: nothing says FAILED."""
    sheet = for_buyer(ready_sheet())
    assert "FAILED" not in listing_text(sheet.report, proof=plain_proof(sheet.report))


def test_a_failure_of_an_earlier_soak_stands_in_the_block_too():
    """The newest soak was quiet: what failed is the reason of the grade."""
    first, second = failing(), good("S2", "2026-01-07T21:00:00Z")
    report = told_of(first, second).report
    assert report.grade.words == "not ready: failed"
    assert report.failed


def test_what_is_no_instrument_stands_in_text_and_picture(monkeypatch):
    """Where the buyer reads it, as SIMULATED does."""
    fixture = {"capture": {"driver": "opencv", "identity": {"nature": "recording"}}}
    soak = good(simulated=False)
    fixture = {**soak.header.fixture.as_json(), **fixture}
    sheet = for_buyer(told_of(soak.with_header(fixture=fixture)))
    said = "The capture is a recording: what it showed proves nothing."
    assert said in listing_text(sheet.report, proof=plain_proof(sheet.report))
    given = watched(monkeypatch)
    picture(sheet.report, "portrait", proof=plain_proof(sheet.report), shown_ready=False)
    assert given[-1]["doubted"] == [said]


@pytest.mark.parametrize("shape", listing.SIZES)
@pytest.mark.parametrize("name", JOBS)
def test_it_fits_in_german_too(name, shape):
    """German words are longer; the grade goes into one line where that is nearly possible."""
    report = for_buyer(JOBS[name]()).report
    proof = plain_proof(report)
    assert listing.picture(report, shape, language_code="de", proof=proof, shown_ready=True)
