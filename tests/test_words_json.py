"""A message that went through JSON says the same in every language."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from soak.language import language
from soak.marks import Alarm, QuestionAsked, fact_of, mark_of
from soak.outside import json_of
from soak.records import Mark, canonical_json, from_json, to_json
from soak.words import (
    Amount,
    Day,
    Message,
    Number,
    Percent,
    Stated,
    all_of,
    begin,
    counted,
    joined,
    just,
    msg,
    sentence,
)
from soak.words_json import as_plain, of_plain

VALUES = st.one_of(
    st.builds(Amount, st.floats(0.0, 1e6), st.sampled_from(["s", "degC", "B"])),
    st.builds(Stated, st.floats(0.0, 1e6), st.just("V")),
    st.builds(Number, st.floats(-1e6, 1e6), st.just(".3g")),
    st.builds(Percent, st.floats(0.0, 1.0), st.integers(0, 2)),
    st.just(Day("2026-01-05")),
    st.integers(0, 100),
    st.text(max_size=8),
)
MESSAGES = st.recursive(
    st.builds(lambda value: msg("{time} left", time=value), VALUES),
    lambda inner: st.one_of(
        st.builds(begin, inner),
        st.builds(sentence, inner),
        st.builds(lambda one, two: joined("; ", [one, two]), inner, VALUES),
        st.builds(lambda one, two: all_of([one, two]), inner, inner),
        st.builds(
            lambda n: counted(n, "1 against it so far", "{count} against it so far"),
            st.integers(0, 9),
        ),
    ),
    max_leaves=6,
)


@given(MESSAGES)
def test_a_message_comes_back_from_json_as_it_was(message):
    """Phrases, values and what is put together: in English and in German."""
    back = of_plain(json.loads(json.dumps(as_plain(message))))
    assert isinstance(back, Message)
    assert back == message
    assert language("de").say(back) == language("de").say(message)


@pytest.mark.parametrize(
    "data",
    [
        *(None, [], {}, {"phrase": 1}, {"phrase": "{a}", "values": {}}, 1.5),
        {"phrase": "{a}", "values": {"a": {"amount": [float("inf"), "s"]}}},
    ],
)
def test_what_is_no_message_is_refused(data):
    """A line of another program, or of a later version."""
    with pytest.raises(ValueError, match="no message"):
        of_plain(data)


@pytest.mark.parametrize("number", ["1e999", "-1e999", "NaN", "Infinity"])
def test_json_from_outside_holds_no_number_without_an_end(number):
    """RFC 8259, section 6, has none; a float too large for its 64 bits would be read as one."""
    with pytest.raises(ValueError, match="is no number"):
        json_of(f'{{"amount": [{number}, "s"]}}')


def in_a_journal(mark: Mark) -> Mark:
    """Return a mark as it comes back from a journal, or from the guard's process."""
    return from_json("mark", json.loads(canonical_json(to_json(mark))))


def test_a_mark_from_a_journal_is_said_in_the_readers_language():
    """So does `soak join`, and so does what the guard's process says."""
    why = msg("the runner has not been heard for {time}", time=Amount(2.5, "s"))
    told = fact_of(in_a_journal(mark_of(1.0, Alarm(why=why))))
    assert isinstance(told, Alarm)
    assert told.why == "the runner has not been heard for 2.50 s"
    assert language("de").say(told.why) == "vom Programm war seit 2,50 s nichts zu hören"


def test_a_mark_of_an_older_journal_and_one_that_was_tampered_with_say_their_english():
    """What is on record is the text; the phrase beside it never says another thing."""
    old = Mark(1.0, "alarm", detail={"why": "the runner is gone"})
    other = {"why": as_plain(msg("the host slept for {time}", time=Amount(40.0, "s")))}
    changed = Mark(1.0, "alarm", detail={"why": "the runner is gone", "said": other})
    broken = Mark(1.0, "alarm", detail={"why": "the runner is gone", "said": {"why": {"x": 1}}})
    for mark in (old, changed, broken):
        told = fact_of(mark)
        assert isinstance(told, Alarm)
        assert language("de").say(told.why) == "the runner is gone"


def test_what_a_person_typed_is_kept_once():
    """A question of a script's own is no phrase, and the journal holds it as before."""
    asked = QuestionAsked(id="look/own", text=just("Is the feet glued?"), expects="yes/no")
    assert "said" not in mark_of(1.0, asked).detail
