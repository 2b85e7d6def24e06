"""Pages in another language: every word of ours is said, nothing that people typed is touched."""

import dataclasses
import functools
import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from made_up_jobs import DETAILS, JOBS, TESTED, cut_off, disturbed, good
from made_up_report import context, findings, judged, night, sheet_of
from said import catalogue, messages, phrases, pieces, plain_texts, text_of_page, typed

from soak.checks.base import all_checks
from soak.desk.carrying.journal import CHECK as CARRIED
from soak.errors import UsageError
from soak.frozen.shape import as_json
from soak.language import codes, language
from soak.names import check_named, named
from soak.report.contents.sheet import Sheet, gather
from soak.report.contents.spoken import spoken
from soak.report.contents.wording import VERDICTS
from soak.report.output import files, slips
from soak.report.output.html import page
from soak.report.output.listing import listing_text, plain_proof
from soak.report.output.paper import page_data
from soak.report.output.privacy import for_buyer

SCRIPTS = sorted((Path(__file__).parents[2] / "soak" / "run" / "scripts").glob("*.toml"))
OTHERS = [code for code in codes() if code != "en"]


@functools.cache
def sheets(job: str) -> tuple[Sheet, Sheet]:
    """Return the bench's and the buyer's sheet of a job."""
    sheet = JOBS[job]()
    return sheet, for_buyer(sheet)


def values(data) -> Iterator[str]:
    """Yield each text of plain data; not its keys, by which a template asks for its words."""
    if isinstance(data, str):
        yield text_of_page(data) if data.startswith("<svg") else data
    elif isinstance(data, dict | list):
        for one in data.values() if isinstance(data, dict) else data:
            yield from values(one)


@functools.cache
def english(code: str) -> list[str]:
    """Return the pieces of all phrases, in small letters, that no words of a language hold."""
    known = catalogue(code)
    theirs = "\n".join(words for entry in known.values() for words in entry).lower()
    ours = {one.lower() for phrase in known for one in pieces(phrase)}
    assert len(ours) > 300
    return sorted(one for one in ours if one not in theirs)


def english_in(text: str, code: str) -> list[str]:
    """Return the pieces of our phrases that stand in a text, as whole words."""
    small = text.lower()
    found = (one for one in english(code) if one in small)
    return [one for one in found if re.search(rf"(?<!\w){re.escape(one)}(?!\w)", small)]


def printed(job: str, code: str) -> dict[str, str]:
    """Return all texts that are made of a job in a language: pages, paper, listing, record."""
    sheet, buyer = sheets(job)
    speaks = language(code)
    paper = page_data(buyer, speaks, "a4")
    record, _ = slips.record_facts(sheet.report)
    return {
        "bench page": text_of_page(page(sheet, code)),
        "buyer's page": text_of_page(page(buyer, code)),
        "paper": "\n".join(values(paper)),
        "listing": listing_text(buyer.report, language_code=code, proof=plain_proof(buyer.report)),
        "record": "\n".join(values(spoken(record, speaks))),
    }


@pytest.mark.parametrize("code", OTHERS)
@pytest.mark.parametrize("job", JOBS)
def test_every_phrase_of_a_report_has_words(job, code):
    """Whatever came of a night, each phrase that its report is made of is in the catalogue."""
    known = catalogue(code)
    said = {one.one for sheet in sheets(job) for told in messages(sheet.report)
            for one in phrases(told)}  # fmt: skip
    assert len(said) > 60
    assert {one for one in said if one and one not in known} == set()


@functools.cache
def all_given() -> str:
    """Return all that stands in the jobs' evidence, findings and details, as one text."""
    soaks = [good(), disturbed(), cut_off()]
    told = [
        *(dataclasses.asdict(one.header) for one in (night(), *soaks)),
        *([one.detail for one in soak.marks()] for soak in (night(), *soaks)),
        [one.detail for one in night().states("capture")],
        [(one.because, one.method, one.why, one.pointers) for one in findings()],
        (judged().reason, judged().aside, judged().open_points),
        dataclasses.asdict(context(safety_test=TESTED)),
        DETAILS,
    ]
    return json.dumps(told, ensure_ascii=False, default=str)


@pytest.mark.parametrize("job", JOBS)
def test_nothing_of_ours_is_passed_off_as_typed(job):
    """Texts of two words or more that nobody translates stand in the evidence or the details."""
    report = sheets(job)[0].report
    texts = {text for told in messages(report) for text in typed(told)} | set(plain_texts(report))
    # Verdicts are keys that pages look up; a script's settings are written as its file has them.
    texts -= {*VERDICTS, *(line for soak in report.soaks for line in soak.script_in_full)}
    told = {part for text in texts for part in text.split(": ")}
    assert {one for one in told if re.search(r"[^\W\d]{2} [^\W\d]{2}", one)} <= {
        one for one in told if one in all_given()
    }


@pytest.mark.parametrize("code", OTHERS)
@pytest.mark.parametrize("job", JOBS)
def test_no_english_of_ours_is_printed(job, code):
    """On no page, paper, listing or record stands a piece of a phrase in English."""
    sheet, _ = sheets(job)
    given = {text for told in messages(sheet.report) for text in typed(told)}
    given = "\n".join(given | set(plain_texts(sheet.report)))
    for where, text in printed(job, code).items():
        assert [one for one in english_in(text, code) if one not in given.lower()] == [], where


@pytest.mark.parametrize("code", OTHERS)
def test_the_search_for_english_finds_some(code):
    """The test above can fail: on the same pages in English many pieces are found."""
    found = {where: len(english_in(text, code)) for where, text in printed("failed", "en").items()}
    assert found.pop("record") > 2
    assert min(found.values()) > 20


@pytest.mark.parametrize("job", JOBS)
def test_numbers_and_days_are_written_as_german_writes_them(job):
    """Decimal commas and months on every page; only ids, versions and typed texts keep points."""
    sheet, _ = sheets(job)
    given = {text for told in messages(sheet.report) for text in typed(told)}
    given = "\n".join(given | set(plain_texts(sheet.report)))
    for where, text in printed(job, "de").items():
        for wrong in re.findall(r"\b\d+\.\d+ (?:°C|K|V|A|s|%|kB|MB|GB|h)(?!\w)", text):
            assert wrong in given, where
        for day in re.findall(r"(?<![\w-])\d{4}-\d\d-\d\d(?![\w-])", text):
            assert day in given, where
    assert "März 2026" in printed("everything", "de")["buyer's page"]
    assert re.search(r"\d,\d", printed("everything", "de")["buyer's page"])


def test_english_pages_write_days_out_and_data_do_not():
    """`2026-03-01` in JSON is `1 March 2026` on a page; ids and versions are no days."""
    sheet, buyer = sheets("everything")
    assert sheet.report.model_dump(mode="json")["performed"] == "2026-03-01"
    text = text_of_page(page(buyer))
    assert "1 March 2026" in text
    assert "2026-03-01" not in text


def test_what_people_typed_is_not_translated():
    """A bench named like a word of ours keeps its name, its serial its point."""
    unit = {**as_json(night().header.unit), "serial": "1.5"}
    sheet = gather(judged(), [night(unit=unit)], context(bench="picture", address="off 1.5"))
    said = spoken(sheet.report, language("de"))
    assert (said["issuer"]["bench"], said["issuer"]["address"]) == ("picture", "off 1.5")
    assert said["unit"]["serial"] == "1.5"
    assert [one["verdict"] for one in said["tested"]] == [
        one.verdict for one in sheet.report.tested
    ]


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


@pytest.mark.parametrize("file", SCRIPTS, ids=lambda file: file.stem)
def test_names_of_the_programs_own_scripts_are_said(file):
    """Each script that comes with the program, its parts and what it is about have words."""
    script = tomllib.loads(file.read_text(encoding="utf-8"))
    stretches = [one["name"] for one in script["stretch"]]
    for name in (script["name"], script["about"], *stretches):
        assert list(phrases(named(name))), name


@pytest.mark.parametrize("check", [*all_checks(), CARRIED])
def test_each_check_has_a_name_in_words(check):
    """Records and lists of what was not tested say what a check does, in the reader's language."""
    assert list(phrases(check_named(check))), check


def test_a_check_that_was_no_part_of_a_soak_is_named_in_words():
    """What no check showed is told with the check that would show it, not with its key."""
    text = printed("ready", "de")["buyer's page"]
    assert "die Prüfung „Verbindung beobachtet“ gehört nicht" in text


@pytest.mark.parametrize("job", JOBS)
def test_names_of_the_programs_own_are_said_wherever_they_stand(job):
    """What a heading calls "Warmlauf" is no "hot run" in a reason."""
    texts = {text for told in messages(sheets(job)[0].report) for text in typed(told)}
    raw = {text for text in texts if list(phrases(named(text.removeprefix("probe."))))}
    assert raw == set()


def test_a_reason_calls_a_stretch_as_its_heading_does():
    """The same page says "Warmlauf" twice: over the stretch, and of why it showed nothing."""
    text = printed("disturbed", "de")["bench page"]
    assert "der Abschnitt Warmlauf endete vorzeitig" in text
    assert "Abschnitt hot run" not in text


def test_words_in_a_drawing_are_drawn_in_the_language():
    """Axis, legend, states and limits of a German chart are German, with decimal commas."""
    sheet, _ = sheets("failed")
    text = text_of_page("".join(one.wide(language("de")) for one in sheet.drawings.values()))
    for words in ("Temperatur, °C", "Zeit seit Beginn, h:min", "Warmstart", "schwarz", "Bild"):
        assert words in text
    assert "höchstens 70,0 °C" in text
