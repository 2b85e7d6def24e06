"""What people gave, as a page takes it: a text, a day, or that nobody said."""

from datetime import date

from soak.words import Day, Message, joined, just, msg

NOT_RECORDED = msg("not recorded")
NONE = msg("none")
NOBODY_YET = msg("nobody yet")
UNNAMED = msg("unnamed bench (write bench.toml)")
_NOT_GIVEN = [sentence.saying for sentence in (NOT_RECORDED, NONE, NOBODY_YET, UNNAMED)]


def given(text: object, otherwise: Message = NOT_RECORDED) -> Message:
    """Return a text as it was typed, or what is said instead of none."""
    return just(str(text)) if text else otherwise


def is_given(told: Message) -> bool:
    """Tell whether anybody gave it."""
    return bool(told) and told.saying not in _NOT_GIVEN


def day(text: object, otherwise: Message = NOT_RECORDED) -> Message:
    """Return a day as the reader writes it; what is no day, as it was typed."""
    try:
        date.fromisoformat(str(text))
    except ValueError:
        return given(text, otherwise)
    return just(Day(str(text)))


def moment(utc: str) -> Message:
    """Return an RFC 3339 time to the minute: `"2026-03-01 20:00"`."""
    return joined(" ", [day(utc[:10], just("")), utc[11:16]])
