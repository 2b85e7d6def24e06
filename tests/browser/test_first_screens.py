"""What a buyer reads on a phone before all the details, measured in a real Chromium."""

import pytest
from browser import HOUSE, LEAVE, browser, elements, result_of, with_script
from made_up_report import poisoned, sheet_of

from soak.report.output.html import page
from soak.report.output.privacy import for_buyer

pytestmark = [
    pytest.mark.browser,
    pytest.mark.skipif(not browser(), reason="no chromium or chrome here; SOAK_BROWSER names one"),
]
THREE_SCREENS_PX = 3 * 844
"""Of a phone of 390 by 844 CSS px, a common size (common practice)."""
SAMPLES = sorted((HOUSE / "reports/sample").glob("*/report-buyer.html"))
PAGES = [
    *(pytest.param(file.read_text, id=file.parent.name) for file in SAMPLES),
    pytest.param(lambda encoding: page(for_buyer(sheet_of()), "de"), id="in-german"),
    pytest.param(lambda encoding: page(for_buyer(poisoned("Wort " * 80))), id="long-words"),
]


@pytest.mark.parametrize("read", PAGES)
def test_all_that_a_buyer_asks_first_fits_three_screens(read, tmp_path):
    """Before "All details": unit, tested, not tested, defects, by hand, safety, how to check."""
    script = LEAVE + (
        "put([document.getElementById('details').getBoundingClientRect().top + scrollY,"
        " [...document.querySelectorAll('.brief > h2')].map(one => one.textContent)])"
    )
    height, titles = result_of(elements(tmp_path, with_script(read(encoding="utf-8"), script), 390))
    assert height <= THREE_SCREENS_PX
    assert len(titles) >= 7


def test_the_samples_are_there():
    """Three buyers' pages are measured."""
    assert len(SAMPLES) == 3
