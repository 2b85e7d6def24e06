"""The pages in a real browser: nothing typed runs, nothing scrolls sideways, all can use them."""

import re
from pathlib import Path

import pytest
from browser import (
    HOUSE,
    LEAVE,
    axe_file,
    browser,
    elements,
    printed,
    result_of,
    with_script,
)  # fmt: skip
from made_up_report import RAN, RUNS, poisoned, sheet_of
from pypdf import PdfReader

from soak.report.output.html import page
from soak.report.output.privacy import for_buyer

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(not browser(), reason="no chromium or chrome here; SOAK_BROWSER names one"),
]
SAMPLES = sorted((HOUSE / "reports/sample").glob("*/report*.html"))
PAGES = [
    *(pytest.param(file.read_text, id=f"{file.parent.name}-{file.stem}") for file in SAMPLES),
    pytest.param(lambda encoding: page(sheet_of()), id="a-job-with-everything"),
    pytest.param(lambda encoding: page(for_buyer(sheet_of()), "de"), id="in-german"),
]
OF_BUYERS = [one for one in PAGES if "buyer" in (one.id or "") or "german" in (one.id or "")]
LOOKED_AT = [one for one in PAGES if one.id in ("failed-report", "ready-report-buyer", "in-german")]
"""Enough for rules that hold or do not hold for the template: a browser takes its time."""


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("read", LOOKED_AT)
def test_axe_finds_nothing(read, width, tmp_path):
    """No violation of any rule of axe-core, on a phone and on a desk."""
    script = (
        f"{axe_file().read_text(encoding='utf-8')};{LEAVE}"
        "axe.run().then(found => put([found.passes.length, found.violations.map(one =>"
        " [one.id, one.nodes.length, one.nodes[0].html.slice(0, 200)])]))"
    )
    passed, violated = result_of(
        elements(tmp_path, with_script(read(encoding="utf-8"), script), width)
    )
    assert violated == []
    assert passed > 10


@pytest.mark.parametrize("audience", ["bench", "buyer"])
def test_no_typed_text_runs(audience, tmp_path):
    """What is typed into any field does nothing, even with the page's policy taken out."""
    sheet = poisoned(RUNS)
    text = page(sheet if audience == "bench" else for_buyer(sheet))
    assert "onerror=" in text
    assert f'data-seen="{RAN}"' not in elements(tmp_path, text)
    seen = elements(tmp_path, with_script(text, f"{LEAVE}put('ours')"))
    assert result_of(seen) == "ours"
    assert f'data-seen="{RAN}"' not in seen


def test_the_same_text_put_in_raw_does_run(tmp_path):
    """The test above can fail: unescaped, the hostile text marks the page."""
    assert f'data-seen="{RAN}"' in elements(tmp_path, f"<html><body>{RUNS}</body></html>")


def test_the_policy_stops_what_was_put_in_raw(tmp_path):
    """Were the escaping ever forgotten, the page's policy still lets nothing run."""
    text = page(sheet_of()).replace("</main>", f"{RUNS}</main>")
    assert f'data-seen="{RAN}"' not in elements(tmp_path, text)


@pytest.mark.parametrize("width", [320, 390, 800])
@pytest.mark.parametrize("read", LOOKED_AT)
def test_no_page_scrolls_sideways(read, width, tmp_path):
    """Nothing is wider than the window, on a small phone either."""
    script = LEAVE + "put([document.documentElement.scrollWidth, innerWidth])"
    seen = elements(tmp_path, with_script(read(encoding="utf-8"), script), width)
    scrolled, inner = result_of(seen)
    assert inner == width
    assert scrolled <= inner


@pytest.mark.parametrize("width", [390, 1280])
@pytest.mark.parametrize("read", LOOKED_AT)
def test_no_word_of_a_finding_runs_into_the_next(read, width, tmp_path):
    """What a finding's columns say stays within them: a long verdict wraps."""
    script = LEAVE + (
        "put([...document.querySelectorAll('#tested dd')].filter(one =>"
        " one.scrollWidth > one.clientWidth).map(one => one.textContent))"
    )
    seen = elements(tmp_path, with_script(read(encoding="utf-8"), script), width)
    assert result_of(seen) == []


@pytest.mark.parametrize("read", OF_BUYERS)
def test_the_buyers_page_prints_on_three_sheets(read, tmp_path):
    """A whole night takes at most three sheets of A4."""
    assert len(PdfReader(printed(tmp_path, read(encoding="utf-8"))).pages) <= 3


@pytest.mark.parametrize(("width", "shown"), [(390, "narrow"), (1280, "wide")])
def test_a_phone_sees_the_narrow_charts(width, shown, tmp_path):
    """Of each chart one drawing shows: the narrow one on a phone, the wide one on a desk."""
    script = LEAVE + (
        "put([...document.querySelectorAll('.charts .wide, .charts .narrow')].filter(one =>"
        " getComputedStyle(one).display !== 'none').map(one => one.className))"
    )
    seen = elements(tmp_path, with_script(page(sheet_of()), script), width)
    assert set(result_of(seen)) == {shown}


def test_the_page_asks_for_nothing(tmp_path):
    """No address of anything outside stands in a page: it opens without a network."""
    for read in PAGES:
        text = read.values[0](encoding="utf-8")
        told = re.findall(r'(?:src|href|action|poster|data)="([^"]+)"', text)
        assert [one for one in told if not one.startswith(("data:image/", "#"))] == []
        assert "@import" not in text


def test_the_samples_are_there():
    """The pages that these tests look at exist: three units, two pages each."""
    assert len(SAMPLES) == 6
    assert {Path(file).parent.name for file in SAMPLES} == {"ready", "failed", "incomplete"}
