"""Lines that pages put together: what is counted is counted right, what nobody gave is left out."""

import pytest
from made_up_report import sheet_of

from soak.language import language
from soak.report.contents import facts
from soak.report.contents.given import NONE, day, given, is_given, moment
from soak.report.model import Wear
from soak.report.output.html import page
from soak.words import Amount, just


@pytest.mark.parametrize(
    ("starts", "told", "german"),
    [(1, "1 start", "1 Start"), (2, "2 starts", "2 Starts"), (0, "0 starts", "0 Starts")],
)
def test_one_start_is_a_start(starts, told, german):
    """A unit that was switched on once had `1 start`, in each language."""
    cost = {"powered": just(Amount(3600.0, "s")), "written": just(Amount(0.0, "B"))}
    words = facts.wear_words(Wear(starts=starts, powered_s=3600.0, written_bytes=0.0, **cost))
    assert words.startswith(f"{told}, ")
    assert language("de").say(words) == f"{german}, 1 h unter Strom, 0 B geschrieben"


def test_what_is_not_known_of_a_unit_has_no_line():
    """No kind, no year, nothing it is sold as: no empty facts stand on the page."""
    report = sheet_of().report
    bare = report.model_copy(
        update={"unit": report.unit.model_copy(update={"kind": "", "year_made": None})}
    )
    names = [str(name) for name, _ in facts.unit_facts(bare)]
    assert "Kind" not in names
    assert "Year made" not in names
    assert "Sold as" not in names  # it is not ready
    assert names[0] == "Model"


def test_a_text_that_was_given_is_told_from_our_word_for_none():
    """A serial typed as `none` was given; that there is none is our own word."""
    assert is_given(given("none"))
    assert not is_given(given("", NONE))
    assert not is_given(just(""))


@pytest.mark.parametrize(
    ("text", "german"),
    [("2026-03-01", "1. März 2026"), ("in March", "in March"), ("2026-13-01", "2026-13-01")],
)
def test_a_day_is_written_out_and_other_text_stays(text, german):
    """Days that people type may be no days at all."""
    assert language("de").say(day(text)) == german
    assert day(text) == text


def test_a_moment_is_told_to_the_minute():
    """A page needs no seconds; a soak without a clock has no moment."""
    assert moment("2026-03-01T20:00:59Z") == "2026-03-01 20:00"
    assert language("en").say(moment("2026-03-01T20:00:59Z")) == "1 March 2026 20:00"
    assert not moment("")


def test_what_a_picture_shows_is_said_in_the_pages_language():
    """The words for those who cannot see a picture are German on a German page."""
    assert 'alt="zuerst (Bild) – Bildeingang bei 0:01:00"' in page(sheet_of(), "de")
