"""No report reads as a form that was filled in: no "at most 0", no reason twice, no empty list."""

import re

import pytest
from made_up_jobs import JOBS
from made_up_report import poisoned, sheet_of
from stilted import stilted

from soak.language import language as speaks
from soak.report.output.files import table
from soak.report.output.html import page
from soak.report.output.listing import MOST_CHARACTERS, listing_text, plain_proof
from soak.report.output.privacy import for_buyer

SHEETS = {**JOBS, "everything": sheet_of}


def plain(html: str) -> str:
    """Return what a page shows of its words: one line an element."""
    text = re.sub(r"<(style|svg|head).*?</\1>", "", html, flags=re.DOTALL)
    return re.sub(r"<[^>]+>", "\n", text)


def texts(sheet) -> dict[str, str]:
    buyer = for_buyer(sheet)
    return {
        "bench": plain(page(sheet)),
        "buyer": plain(page(buyer)),
        "listing": listing_text(buyer.report, proof=plain_proof(buyer.report)),
        "table": table(sheet.report),
    }


@pytest.mark.parametrize("name", SHEETS)
def test_no_report_reads_as_a_form_that_was_filled_in(name):
    """Each made-up job, on both pages, in the listing and in the table."""
    told = texts(SHEETS[name]())
    assert {(where, *wrong) for where, text in told.items() for wrong in stilted(text)} == set()


@pytest.mark.parametrize("name", SHEETS)
def test_a_reason_is_said_once_for_all_that_it_holds_for(name):
    """On the buyer's page no two rows of what was not tested give the same reason."""
    html = page(for_buyer(SHEETS[name]()))
    rows = html[html.index('id="h-missing"') : html.index('id="h-limits"')]
    reasons = re.findall(r'<p class="small"><bdi>(.*?)</bdi>', rows)
    assert len(reasons) == len(set(reasons))


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("name", [*SHEETS, "long words", "long names"])
def test_the_listings_text_is_short(name, language):
    """Under 1 500 characters, whatever was typed, and still saying grade and signature."""
    long = {"long words": "Wort " * 80, "long names": "W" * 3000}
    sheet = poisoned(long[name]) if name in long else SHEETS[name]()
    report = for_buyer(sheet).report
    text = listing_text(report, language_code=language, proof=plain_proof(report))
    assert len(text) < MOST_CHARACTERS == 1500
    assert ("Not signed" if language == "en" else "Nicht unterschrieben") in text
    assert report.report_id in text
    assert speaks(language).say(report.performed) in text
