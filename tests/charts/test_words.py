"""Text of other people is made fit to print."""

import unicodedata

from hypothesis import given
from hypothesis import strategies as st

from soak.charts.words import printable, shortened


@given(st.text(max_size=2000))
def test_printable_text_holds_no_control_or_reversing_character(text):
    """Whatever comes in, one line without controls, overrides and lone surrogates comes out."""
    plain = printable(text)
    assert not [c for c in plain if unicodedata.category(c) in ("Cc", "Cs")]
    assert not set(plain) & set(
        "\u200b\u200e\u200f\u202a\u202b\u202d\u202e\u2066\u2067\u2069\ufeff"
    )
    assert plain == plain.strip()
    plain.encode("utf-8")


@given(st.text(min_size=500, max_size=3000))
def test_printing_twice_changes_nothing_more(text):
    """A text that is fit to print stays as it is, so stored reports read back as they were."""
    assert printable(printable(text)) == printable(text)


def test_long_text_keeps_both_ends_and_says_what_is_missing():
    """Ten thousand characters become a few hundred that name the number left out."""
    plain = printable("a" * 5000 + "z" * 5000)
    assert plain.startswith("aaa")
    assert plain.endswith("zzz")
    assert "characters left out" in plain
    assert len(plain) < 650


def test_plain_text_is_left_alone():
    """Markup, accents, other scripts and emoji are text like any other."""
    for text in ("<b>R&D</b>", "Möwe 鷗 قطرس 🐦", "=1+1"):
        assert printable(text) == text


def test_shortened_text_ends_with_an_ellipsis():
    """Cut text shows that it was cut, and fits."""
    assert shortened("abcdefghij", 6) == "abcde…"
    assert shortened("abc", 6) == "abc"
