"""Pointers for the repairer: on the bench's page, and on nothing that a buyer gets."""

import json

from made_up_soak import HOT_S, STARTS_S, clean_night, demand
from pypdf import PdfReader

from soak.judge.grade import judge
from soak.report.contents.context import ReportContext
from soak.report.contents.sheet import gather
from soak.report.output import files
from soak.report.output.html import page
from soak.report.output.privacy import for_buyer

POINTER = "Looks like the video connector"


def dropping():
    """Return a night on which the picture alone was lost five times."""
    soak = clean_night().demanding(demand("no dropout", "capture", confidence=0.95))
    for at in range(5):
        from_s = STARTS_S + 1800 * (at + 1)
        soak.spell("capture", from_s, from_s + 2, "black")
    return soak


def sheet(soak):
    context = ReportContext(bench="Kittiwake Yard", issued_utc="2026-01-06T08:00:00Z", version="0")
    return gather(judge([soak]), [soak], context)


def test_the_bench_page_says_where_to_look_first_and_hedges():
    """The pointer, that it is no finding, and the swap that decides unit or bench."""
    shown = page(sheet(dropping()))
    assert POINTER in shown
    assert "not findings" in shown
    assert "soak swap" in shown


def test_nothing_that_a_buyer_gets_holds_a_pointer(tmp_path):
    """Pages, paper, data, table, listing text of a buyer are searched for its words."""
    made = files.write_report(sheet(dropping()), tmp_path, files.Outputs(everything=True))
    assert POINTER in made.bench_page.read_text()
    assert json.loads(made.data.read_text())["causes"]
    for file in tmp_path.iterdir():
        if file in (made.bench_page, made.data):
            continue
        text = file.read_bytes().decode("utf-8", "ignore")
        if file.suffix == ".pdf":
            text = " ".join(one.extract_text() for one in PdfReader(file).pages)
        assert "Looks like" not in text, file.name
        assert "look first" not in text, file.name
    assert json.loads((tmp_path / files.BUYER_DATA).read_text())["causes"] == []


def test_a_quiet_night_points_nowhere():
    """No event: no section, and nothing is invented."""
    quiet = sheet(clean_night().demanding(demand("no dropout", "capture")))
    assert quiet.report.causes == ()
    assert "Where to look first" not in page(quiet)


def test_an_event_without_a_pattern_is_no_idea():
    """One loss alone points nowhere, and that is said."""
    soak = clean_night().demanding(demand("no dropout", "capture"))
    soak.spell("capture", STARTS_S + HOT_S / 2, STARTS_S + HOT_S / 2 + 2, "black")
    only, swap = sheet(soak).report.causes
    assert only.startswith("No idea")
    assert swap.startswith("A swap")


def test_the_buyers_content_holds_none():
    """Whatever the page: the content for a buyer has an empty list."""
    told = sheet(dropping())
    assert told.report.causes
    assert for_buyer(told).report.causes == ()


def test_german_says_it_too():
    """The heading and the pointer in a German bench page are German."""
    shown = page(sheet(dropping()), "de")
    assert "Wo zuerst nachsehen" in shown
    assert "Sieht nach Bildstecker" in shown
    assert POINTER not in shown
