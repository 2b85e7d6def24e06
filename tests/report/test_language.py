"""Pages in another language: every word of ours is said, nothing that people typed is touched."""

import dataclasses
import functools
import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest
from made_up_report import context, findings, judged, night, sheet_of
from made_up_soak import STARTS_S, clean_night, fail_start
from said import catalogue, messages, phrases, pieces, plain_texts, text_of_page, typed

from soak.errors import UsageError
from soak.judge.grade import judge
from soak.language import codes, language
from soak.records import Seal, Session
from soak.report import files, slips
from soak.report.content import Sheet, gather
from soak.report.context import SafetyTest
from soak.report.html import page
from soak.report.listing import listing_text, plain_proof
from soak.report.names import named
from soak.report.paper import page_data
from soak.report.privacy import for_buyer
from soak.report.spoken import spoken
from soak.report.wording import VERDICTS
from soak.rules.answered import ANSWERED, USUAL, AnsweredTerms
from soak.rules.limits import AT_LEAST, AT_MOST, NO_TRIP, TripTerms
from soak.rules.picture import DROPOUTS_PER_HOUR, NO_DROPOUT, NO_RESTART
from soak.rules.rise import RISE_AT_MOST
from soak.rules.starts import OFF_PROVED, STARTS
from soak.rules.stick import STICK_STAYED
from soak.rules.tail import FAILURE_FREE
from soak.rules.transfer import NO_STALL, NO_WRONG_DATA, SPEED_KEPT
from soak.terms import LossTerms, SpotTerms, StartTerms

SCRIPTS = sorted((Path(__file__).parents[2] / "soak" / "run" / "scripts").glob("*.toml"))
OTHERS = [code for code in codes() if code != "en"]
WHERE = {"check": "picture", "stretch": "hot run"}
TESTED = SafetyTest("B. Dunlin", "2026-03-02", "own tester", "passed")


def demands():
    """Return what a night is asked, by rules of every section of a page."""
    lost = LossTerms(bad=("black", "no signal"), usual_start_s=20.0)
    heat = {"check": "spots", "stretch": "hot run", "unit": "degC"}
    probe = {"quantity": "probe.outside", **heat}
    data = {"check": "transfer", "stretch": "hot run", "limit": 0.0}
    picture = {"quantity": "capture", "limit": 0.0, "confidence": 0.95, **WHERE}
    starts = {"check": "power_cycles", "stretch": "starts", "limit": 0.0, "confidence": 0.95}
    asked = {"check": "look", "stretch": "starts"}
    stick = "transfer.stick"
    return [
        STARTS.demand(StartTerms(), id="starts", shows_repair=frozenset({"start"}), **starts),
        OFF_PROVED.demand(OFF_PROVED.terms(), id="off", **{**starts, "confidence": None}),
        NO_DROPOUT.demand(lost, id="dropout", shows_repair=frozenset({"video"}), **picture),
        NO_RESTART.demand(lost, id="restart", **picture),
        DROPOUTS_PER_HOUR.demand(lost, id="short", **{**picture, "limit": 1.0}),
        FAILURE_FREE.demand(lost, id="tail", quantity="capture", limit=7200.0, **WHERE),
        NO_WRONG_DATA.demand(
            NO_WRONG_DATA.terms(over="port"), id="data", quantity=f"{stick}.damaged", **data
        ),
        NO_STALL.demand(
            NO_STALL.terms(), id="stall", quantity=f"{stick}.chunk_s", **{**data, "limit": 5.0}
        ),
        SPEED_KEPT.demand(
            SPEED_KEPT.terms(), id="speed", quantity=f"{stick}.speed", **{**data, "limit": 0.6}
        ),
        STICK_STAYED.demand(
            STICK_STAYED.terms(), id="stick", quantity="stick", confidence=0.95, **data
        ),
        AT_MOST.demand(SpotTerms(spot="lid"), id="hot", limit=70.0, guarded=True, **probe),
        AT_LEAST.demand(SpotTerms(spot="lid"), id="cold", limit=12.5, **probe),
        RISE_AT_MOST.demand(
            RISE_AT_MOST.terms(spot="lid", ambient="probe.ambient"),
            id="rise",
            limit=40.0,
            **{**probe, "unit": "K"},
        ),
        NO_TRIP.demand(
            TripTerms(spot="lid", source="probe.outside", trip_degc=80.0),
            id="trip",
            quantity="probe.outside",
            limit=0.0,
            check="spots",
            stretch="hot run",
        ),
        *(
            ANSWERED.demand(
                AnsweredTerms(text=str(question)), id=name, quantity=f"starts/{name}", **asked
            )
            for name, question in USUAL.items()
        ),
    ]


SHEET = {
    "model": "Ferrow SP-40",
    "kind": "Abspieler",
    "picture_when_on": "moving",
    "start_s": 20.0,
    "holds_data": True,
    "functions": {
        "video": {"text": "zeigt Bilder", "key": True, "check": "picture"},
        "start": {"text": "startet", "key": True, "check": "power_cycles"},
        "sound": {"text": "macht Ton", "key": True, "check": ""},
        "net": {"text": "geht ins Netz", "check": "link"},
    },
}
REPAIR = {"what": "Buchse", "function": "video", "kind": "Sturz", "on": "2026-01-03"}
WIPED = {"how": "Reset", "verified": "Menü", "by": "Ada", "on": "2026-01-04"}


def good(soak_id: str = "S1", utc: str = "2026-01-05T21:00:00Z", **changed):
    """Return a good unit's night with everything that a person adds to it."""
    soak = clean_night(soak_id, utc)
    unit = {"serial": "KY-1", "tag": "K1", "repairs": [REPAIR], "wiped": WIPED}
    known = {"model_sheet": SHEET, "unit": unit, **changed}
    soak = soak.with_header(requirements=tuple(demands()), **known)
    for at, (name, question) in enumerate(USUAL.items()):
        said = {"id": f"starts/{name}", "by": "Ada"}
        soak.mark(3.0 + at, "question", "starts", "look", text=str(question), **said)
        soak.mark(4.0 + at, "answer", "starts", "look", answer="yes", **said)
    soak.mark(20.0, "note", "starts", text="Licht an", by="Ada")
    return soak


def failing():
    """Return a night with losses, restarts, a failed start, wrong data and too much heat."""
    soak = good()
    fail_start(soak, 7)
    for at in range(4):
        from_s = STARTS_S + 1800 * (at + 1)
        soak.spell("capture", from_s, from_s + 2.5, "black")
    soak.spell("capture", STARTS_S + 12_000, STARTS_S + 12_025, "no signal")
    soak.spell("stick", STARTS_S + 9000, STARTS_S + 9010, "gone")
    t_s, degc = soak.readings["probe.outside"]
    soak.readings["probe.outside"] = (t_s, degc + 30.5)
    t_s, damaged = soak.readings["transfer.stick.damaged"]
    damaged[500] = 4096.0
    return soak


def disturbed():
    """Return a night in which the bench was blind, resumed, and the operator had a hand in it."""
    soak = good(simulated=False)
    soak.spell("capture", STARTS_S + 2000, STARTS_S + 4000, "blind")
    soak.spell("capture", STARTS_S + 5000, STARTS_S + 5600, "protected output")
    soak.fault(STARTS_S + 2000, "capture", "/dev/video2")
    soak.fault(STARTS_S + 6000, "switch", "stumm")
    soak.mark(STARTS_S + 6100, "power", on=True, channel="1", why="")
    soak.mark(STARTS_S + 7000, "note", "hot run", text="Stecker gezogen", by="Ada", was_me=True)
    soak.mark(STARTS_S + 7500, "clock stepped", by_s=3600.0)
    soak.session_list.append(
        Session(2, "0", "b", "2026-01-06T01:00:00Z", STARTS_S + 8000.0, None, "unknown")
    )
    soak.seal = Seal(soak.ends_s, "stopped")
    soak.mark_list = [
        dataclasses.replace(mark, detail={"because": "stopped"})
        if mark.what == "stretch ends" and mark.stretch == "hot run"
        else mark
        for mark in soak.mark_list
    ]
    return soak


def cut_off():
    """Return a night without a seal, of a model of another kind, its stick on the bench."""
    sheet = {**SHEET, "picture_when_on": "still", "holds_data": False, "functions": {}}
    soak = good(model_sheet=sheet)
    fixture = {**soak.header.fixture, "stick": {"driver": "folder", "path": "bench_only"}}
    soak = soak.with_header(fixture=fixture, unit={"serial": "", "repairs": [], "wiped": None})
    soak.seal = None
    return soak


DETAILS = {
    "deviations": ("Deckel offen",),
    "known_defects": ("Kratzer am Deckel",),
    "condition": "gut",
    "address": "Hafen 4",
    "authorised_by": "A. Fulmar",
}


def told_of(*soaks, **more) -> Sheet:
    """Judge soaks and gather their sheet."""
    return gather(judge(list(soaks)), list(soaks), context(**{**DETAILS, **more}))


def watched_by_nobody() -> Sheet:
    """Return the sheet of a soak with a thermometer alone."""
    fixture = {"name": "eins", "probe": {"case": {"driver": "by_hand", "spot": "ambient"}}}
    return told_of(good(fixture=fixture), challenges=(), earlier_soaks=(), recall_checked_on="")


JOBS = {
    "everything": lambda: sheet_of(safety_test=TESTED),
    "ready": lambda: told_of(good(), safety_test=TESTED, recall_checked_on="2026-01-03"),
    "failed": lambda: told_of(failing(), claim="tested"),
    "disturbed": lambda: told_of(disturbed(), grade_keeps_days=1),
    "cut off": lambda: told_of(cut_off(), bench="", address="", authorised_by=""),
    "second": lambda: told_of(good("S1"), good("S2", "2026-01-07T21:00:00Z"), earlier_soaks=()),
    "one instrument": watched_by_nobody,
}


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
    unit = {**night().header.unit, "serial": "1.5"}
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


def test_words_in_a_drawing_are_drawn_in_the_language():
    """Axis, legend, states and limits of a German chart are German, with decimal commas."""
    sheet, _ = sheets("failed")
    text = text_of_page("".join(one.wide(language("de")) for one in sheet.drawings.values()))
    for words in ("Temperatur, °C", "Zeit seit Beginn, h:min", "Warmstart", "schwarz", "Bild"):
        assert words in text
    assert "höchstens 70,0 °C" in text
