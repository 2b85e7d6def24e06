"""Typesetting: only the shipped font, no typed text runs, a missing sign is shown and said."""

from datetime import UTC, datetime
from functools import cache
from importlib import resources
from io import BytesIO

import pytest
from fontTools.ttLib import TTFont
from made_up_report import HOSTILE, RUNS, poisoned, sheet_of
from pypdf import PdfReader

from soak.language import language
from soak.report.output.paper import missing_words, page_data, pdf
from soak.report.output.privacy import for_buyer
from soak.report.output.typeset import MISSING, NotSet, fitted, set_pdf, set_pictures, signs

FONTS = resources.files("soak.report").joinpath("fonts")


def faces() -> list[TTFont]:
    """Return the shipped faces."""
    return [
        TTFont(BytesIO(FONTS.joinpath(f"soak-sans-{s}.ttf").read_bytes()))
        for s in ("regular", "bold")
    ]


def text_of(made: bytes) -> str:
    """Return a PDF's words on one line."""
    return " ".join(
        " ".join(page.extract_text() for page in PdfReader(BytesIO(made)).pages).split()
    )


@cache
def paper(simulated: bool = False) -> bytes:
    """Return the buyer's PDF of the made-up night; typesetting takes a second."""
    return pdf(for_buyer(sheet_of(simulated)))


def test_the_list_of_signs_is_that_of_the_fonts():
    """What signs.txt promises both faces hold, and nothing less."""
    both = set.intersection(*(set(face.getBestCmap()) for face in faces()))
    assert signs() == both
    assert ord(MISSING) in both


def test_the_fonts_are_small_and_bear_their_own_name():
    """Under 200 kB together; renamed, as the licence asks, and the licence lies beside them."""
    sizes = [len(FONTS.joinpath(f"soak-sans-{s}.ttf").read_bytes()) for s in ("regular", "bold")]
    assert sum(sizes) < 200_000
    assert {face["name"].getDebugName(1) for face in faces()} == {"Soak Sans"}
    licence = FONTS.joinpath("LICENSE.txt").read_text(encoding="utf-8")
    assert "Permission is hereby granted" in licence
    assert not any("Vera" in face["name"].getDebugName(4) for face in faces())


def test_a_sign_that_the_font_lacks_is_shown_and_counted():
    """Typesetters drop such a sign without a word; here it is a box, and the page names it."""
    fit, missing = fitted({"a": ["abc 鷗", "é Ω °"], "b": {"c": "🐦🐦"}, "n": 3, "t": True})
    assert fit == {"a": [f"abc {MISSING}", "é Ω °"], "b": {"c": MISSING * 2}, "n": 3, "t": True}
    assert missing == {"鷗", "🐦"}
    assert missing_words(missing).endswith("shown as □: U+9DD7, U+1F426")
    many = {chr(0x9000 + n) for n in range(11)}
    assert missing_words(many).endswith("and 3 more")
    assert missing_words(()) == ""
    said = pdf(for_buyer(sheet_of(condition="tag 鷗 on the lid")))
    assert "shown as □: U+9DD7" in text_of(said)


CODE = [
    '#panic("ran")',
    "#sys.version",
    "$ x/0 $",
    '#import "x.typ"',
    "*bold* _it_ `raw`",
    "#{",
    "]",
    "\\",
]


def test_typed_code_is_printed_and_never_run():
    """Typesetter's code in a field stands on the page as it was typed."""
    typed = [f"x{code}y" for code in CODE]
    printed = "".join(text_of(pdf(for_buyer(sheet_of(condition=" ".join(typed))))).split())
    assert [one for one in typed if "".join(one.split()) not in printed] == []


SHORT = [words for words in HOSTILE if len(words) < 100]
LONG = [words for words in HOSTILE if len(words) >= 100]


@pytest.mark.parametrize(
    "words",
    [" ".join(SHORT), *LONG, RUNS, " ".join(CODE), *CODE[-3:]],
    ids=lambda words: ascii(words[:12]),
)
def test_hostile_text_is_set_whatever_it_is(words):
    """Every field hostile at once: still a PDF of few sheets."""
    made = pdf(for_buyer(poisoned(words)))
    assert made.startswith(b"%PDF-")
    assert len(PdfReader(BytesIO(made)).pages) <= 9


def test_a_refused_page_is_one_sentence():
    """The typesetter's word comes with the page's name and without a traceback of its own."""
    with pytest.raises(NotSet, match=r"^report\.typ: cannot be set: "):
        set_pdf("report.typ", {}, {}, datetime(2026, 1, 1, tzinfo=UTC))


def test_a_damaged_picture_does_not_cost_the_page():
    """The page is set without its pictures, and each is said not to be shown."""
    said = for_buyer(sheet_of())
    data = page_data(said, language("en"), "a4")
    data |= {"scale": 1.0, "chart_share": 1.0}
    files = {f"{name}.jpg": one.data for name, one in said.pictures.items()}
    with pytest.raises(NotSet):  # the made-up night's JPEG has a true beginning and nothing else
        set_pictures("report.typ", data, files)
    assert "(Not shown)" in text_of(pdf(said))


def test_the_paper_is_tagged_and_to_be_kept():
    """Language, title, structure tree, marks, words for each chart, and both standards' claims.

    ISO 14289-1 (PDF/UA-1) asks for `pdfuaid:part` 1, ISO 19005-2 for `pdfaid:part` 2 and, tagged,
    conformance A, in the metadata.
    """
    sheet = for_buyer(sheet_of())
    reader = PdfReader(BytesIO(paper()))
    catalogue = reader.trailer["/Root"]
    assert catalogue["/MarkInfo"]["/Marked"] is not None
    assert bool(catalogue["/MarkInfo"]["/Marked"])
    assert "/StructTreeRoot" in catalogue
    assert catalogue["/Lang"] == "en"
    assert bool(catalogue["/ViewerPreferences"]["/DisplayDocTitle"])
    metadata = catalogue["/Metadata"].get_data().decode()
    assert "<pdfuaid:part>1</pdfuaid:part>" in metadata
    assert "<pdfaid:part>2</pdfaid:part>" in metadata
    assert "<pdfaid:conformance>A</pdfaid:conformance>" in metadata
    tags = list(tags_in(catalogue["/StructTreeRoot"]))
    kinds = [tag for tag, _ in tags]
    assert kinds.count("/H1") == 1
    assert {"/H2", "/Table", "/TH", "/Figure"} <= set(kinds)
    said = [alt for tag, alt in tags if tag == "/Figure"]
    assert len(said) == sum(len(soak.charts) for soak in sheet.report.soaks)
    assert all(len(alt) > 20 for alt in said)


def tags_in(node):
    """Yield the kind and the alternative words of each element of a structure tree."""
    node = node.get_object()
    if isinstance(node, list):
        for child in node:
            yield from tags_in(child)
    elif hasattr(node, "get"):
        if "/S" in node:
            yield node["/S"], str(node.get("/Alt", ""))
        if "/K" in node:
            yield from tags_in(node["/K"])


def test_only_shipped_fonts_are_in_the_paper():
    """Fonts of the machine would make other pages elsewhere."""
    reader = PdfReader(BytesIO(paper()))
    fonts = {
        font.get_object()["/BaseFont"].partition("+")[2]
        for page in reader.pages
        for font in page["/Resources"].get("/Font", {}).values()
    }
    assert fonts <= {"SoakSans-Regular", "SoakSans-Bold"}
    assert fonts


def test_the_same_report_gives_the_same_paper():
    """Nothing of the day or the machine is in it but the time of issue."""
    assert pdf(for_buyer(sheet_of())) == paper()


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("us-letter", (612, 792))])
def test_the_sheet_has_its_size(paper, size):
    """A4 is 210 x 297 mm (ISO 216), US Letter 8.5 x 11 in, at 72 points an inch."""
    page = PdfReader(BytesIO(pdf(for_buyer(sheet_of()), "en", paper))).pages[0]
    assert (round(float(page.mediabox.width)), round(float(page.mediabox.height))) == size


@pytest.mark.parametrize("simulated", [True, False])
def test_simulated_stands_on_every_sheet(simulated):
    """The banner once, and the word across each sheet; nothing of it on a real report."""
    reader = PdfReader(BytesIO(paper(simulated)))
    assert len(reader.pages) <= 3
    assert {"SIMULATED" in page.extract_text() for page in reader.pages} == {simulated}
