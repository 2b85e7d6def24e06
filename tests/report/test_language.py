"""Pages in another language: every word of ours is said, nothing that people typed is touched."""

import html
import json
import re
from pathlib import Path

import pytest
from made_up_report import REQUIREMENTS, sheet_of
from soak.report.language import _SHOWN, language, spoken, texts

from soak.errors import UsageError
from soak.report import files, listing, paper, slips
from soak.report.html import page
from soak.report.model import Report
from soak.report.privacy import for_buyer

HOUSE = Path(__file__).parents[2]
TEMPLATE = HOUSE / "soak/report/templates/sheet.html.j2"
SAMPLES = sorted((HOUSE / "reports/sample").glob("*/report-buyer.json"))
TYPED_HERE = {  # model sheet, details and workshop of the demo: words of its owner
    "3 Slipway, Harbour Row (invented)", "K. Yard", "digital-signage player",
    "light scratches on the lid, none on the connectors", "light scratches on the lid",
    "the mains adapter is not the maker's own",
}  # fmt: skip
UNITS_ONLY = re.compile(r"(?:[-–\d.,:±%° ]|\b(?:h|min|s|B|kB|MB|GB|TB|K|C|V|A|W)\b|/s)*")


def untold(said: Report) -> set[str]:
    """Return texts of a report that German does not hold, but for what its owners typed."""
    sheet_words = {one.what for one in said.not_tested} | set(said.shown)
    sheet_words |= {one.function for one in said.repairs}
    return {
        text
        for text in texts(said)
        if not language("de").knows(text)
        and not UNITS_ONLY.fullmatch(text)
        and text not in TYPED_HERE | sheet_words
    }


@pytest.mark.parametrize("file", SAMPLES, ids=lambda file: file.parent.name)
def test_german_holds_every_text_of_a_buyers_report(file):
    """Of a ready, a failed and an incomplete night no text of ours is left in English."""
    said = Report.model_validate_json(file.read_text(encoding="utf-8"))
    assert untold(said) == set()


def test_the_end_of_a_sentence_stays_at_its_end():
    """A place of an entry takes no full stop, wherever German puts what it took."""
    told = language("de").say(
        "Does not meet: Pressed at the button it goes off by itself within 60 s."
    )
    assert told.startswith("Erfüllt nicht: ")
    assert told.endswith("innerhalb von 60 s von selbst aus.")


def test_the_search_for_untold_texts_finds_one():
    """The test above can fail: a sentence that no catalogue holds is found."""
    said = for_buyer(sheet_of()).report
    assert "Nobody ever said that." in untold(
        said.model_copy(update={"shelf_life": "Nobody ever said that."})
    )


def own_words() -> set[str]:
    """Return the words that pages, paper and pictures have of their own."""
    source = TEMPLATE.read_text(encoding="utf-8")
    words = set(re.findall(r'_\("([^"]+)"\)', source))
    words |= {*paper.LABELS, *listing.LABELS, *slips.KINDS.values()}
    for module in (paper, listing, slips):
        code = Path(module.__file__).read_text(encoding="utf-8")
        words |= set(re.findall(r'(?<![\w.])say\("([^"{]+)"\)', code))
        words |= set(re.findall(r"(?<![\w.])say\('([^'{]+)'\)", code))
    return words


def test_german_holds_every_word_of_the_pages_themselves():
    """Headings, names of facts and labels: each has its entry."""
    words = own_words()
    assert len(words) > 90
    assert {word for word in words if not language("de").knows(word)} == set()


def test_charts_are_said_too():
    """Axis, legend and limits of a chart in a German page are German."""
    shown = [html.unescape(one) for one in _SHOWN.findall(page(for_buyer(sheet_of()), "de"))]
    assert "Temperatur, °C" in shown
    assert "Zeit seit Beginn, h:min" in shown
    assert not {"temperature, °C", "time since the soak began, h:min", "power off"} & set(shown)


@pytest.mark.parametrize(
    ("code", "text", "said"),
    [
        ("de", "54.8 °C", "54,8 °C"),
        ("de", "63 of 63 starts worked", "63 von 63 Starts gelangen"),
        ("de", "2026-03-01", "1. März 2026"),
        ("en", "2026-03-01 20:00", "1 March 2026 20:00"),
        ("en", "54.8 °C", "54.8 °C"),
        ("en", "K1-20260301-2000", "K1-20260301-2000"),
        ("en", "2026-13-01", "2026-13-01"),
        ("de", "soak 0.1.0", "soak 0.1.0"),
    ],
)
def test_numbers_and_dates_are_written_as_the_language_writes_them(code, text, said):
    """Decimal comma and months for German; ids and versions are no numbers (common practice)."""
    assert language(code).say(text) == said


def test_what_people_typed_is_not_translated():
    """A bench named like a word of ours keeps its name, its serial its point."""
    said = sheet_of(bench="picture", address="off 1.5").report
    said = said.model_copy(update={"unit": said.unit.model_copy(update={"serial": "1.5"})})
    german = spoken(said, language("de"))
    assert (german.issuer.bench, german.issuer.address) == ("picture", "off 1.5")
    assert german.unit.serial == "1.5"
    assert {one.verdict for one in german.tested} == {one.verdict for one in said.tested}


def test_the_data_stay_english(tmp_path):
    """JSON is for programs: pages in German leave it as it is."""
    for code in ("en", "de"):
        files.write_report(sheet_of(), tmp_path / code, files.Outputs(language=code))
    one, two = (json.loads((tmp_path / code / "report.json").read_text()) for code in ("en", "de"))
    assert one == two


def test_a_language_that_is_not_there_is_named_with_those_that_are():
    """One sentence: which was asked for, which there are."""
    with pytest.raises(UsageError, match=r"--language tlh: there is de, en"):
        language("tlh")


def test_places_of_both_sides_of_an_entry_are_the_same():
    """No entry drops or invents a place: a number would be lost or a page would not be made."""
    for english, other in language("de").words.items():
        assert set(re.findall(r"\{(\w+)\}", english)) == set(re.findall(r"\{(\w+)\}", other))


def test_requirements_of_the_made_up_night_are_left_as_they_are():
    """A demand that no catalogue knows, of a check of somebody's own, is printed as it stands."""
    text = REQUIREMENTS[0].text
    assert language("de").say(text) == text
