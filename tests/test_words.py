"""Messages keep what they are made of, and get their words last."""

import copy
import pickle

import pytest

from soak.language import codes, language
from soak.words import (
    NOTHING_SAID,
    Amount,
    Day,
    Number,
    Percent,
    Stated,
    all_of,
    begin,
    counted,
    joined,
    just,
    msg,
    paragraph,
    sentence,
    typed_in,
)


def test_a_message_is_its_english():
    """A message reads as its phrase with the values in their places."""
    said = msg("{value} at {time}", value=Amount(31.25, "degC"), time=Amount(65, "s"))
    assert said == "31.2 °C at 65 s"


@pytest.mark.parametrize(
    ("number", "said"), [(0, "none at all"), (1, "1 start"), (3, "3 starts"), (2.5, "2.5 starts")]
)
def test_a_count_has_its_form(number, said):
    """None, one and many are told in their own words."""
    assert counted(number, "1 start", "{count} starts", none=msg("none at all")) == said


def test_sentences_begin_with_a_capital_and_end_with_a_full_stop():
    """Phrases are written in small letters so that they can stand anywhere."""
    assert paragraph(sentence(msg("it ran")), NOTHING_SAID, sentence("éa")) == "It ran. Éa."


def test_a_bare_float_cannot_be_said():
    """How a number is written is decided where the message is made."""
    with pytest.raises(TypeError, match="Amount"):
        msg("{value}", value=1.5)


def test_a_place_without_a_value_is_refused():
    """A forgotten value shows at once and not on a page."""
    with pytest.raises(KeyError):
        msg("{value} of {all}", value=1)


def test_braces_in_what_people_typed_stay():
    """What stands in a place is never read as a phrase."""
    assert msg("said {text}", text="{count} {0} {") == "said {count} {0} {"


@pytest.mark.parametrize("again", [pickle.dumps, copy.deepcopy])
def test_a_message_survives_copying(again):
    """A copy can still be said in another language."""
    told = sentence(joined("; ", [msg("a {n}", n=1), all_of(["x", "y", "z"])]))
    other = pickle.loads(again(told)) if again is pickle.dumps else again(told)
    assert other.saying == told.saying


def test_german_has_its_own_decimal_sign_list_and_date():
    """Decimal sign, "and" and long dates are those of CLDR 46 and later for German."""
    say = language("de").say
    assert say(msg("{a} {b}", a=Amount(1.5, "s"), b=Percent(0.031, 1))) == "1,50 s 3,1 %"
    assert say(all_of(["A", "B", "C"])) == "A, B und C"
    assert say(Day("2026-03-01T20:00:00Z")) == "1. März 2026"
    assert say(Number(12345.0, ",")) == "12 345"


def test_what_people_typed_can_be_changed_and_the_programs_words_stay():
    """A page for others replaces what was typed freely, wherever it stands in a message."""
    told = sentence(joined("; ", [msg("host {name}", name="host"), begin("host")]))
    assert typed_in(told, lambda text: "(left out)") == "Host (left out); (left out)."


def test_an_empty_message_stays_empty_in_every_language():
    """Gettext gives its catalogue's header for an empty phrase."""
    assert [language(code).say(NOTHING_SAID) for code in codes()] == [""] * len(codes())


def test_a_stated_number_keeps_its_digits_from_a_million_on():
    """A limit of 1234567 B/s is not 1.23457e+06."""
    assert just(Stated(1_234_567.0, "B/s")) == "1234567 B/s"
    assert just(Number(25_000_000.0, "g")) == "25000000"
    assert just(Stated(0.35, "V")) == "0.35 V"


@pytest.mark.parametrize(
    ("told", "begun"),
    [("µA are drawn", "µA are drawn"), ("ßß", "ßß"), ("über", "Über"), ("it", "It"), ("", "")],
)
def test_a_first_letter_without_a_capital_of_its_own_stays(told, begun):
    """The capital of a micro sign is a Greek letter, that of a sharp s two letters."""
    assert begin(told) == begun
