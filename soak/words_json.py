"""Messages as JSON, for what goes to another process or into a journal and is said there.

Beside the English that every reader of a record finds, so that a screen which reads a record
elsewhere, such as that of `soak join`, says it in its reader's language, too.
"""

from collections.abc import Iterable, Mapping
from contextlib import suppress
from typing import Any

from soak.words import (
    Amount,
    Begun,
    Day,
    Joined,
    Message,
    Number,
    Percent,
    Phrase,
    Said,
    Stated,
    Table,
    message_of,
)

_VALUES: Mapping[str, type[Any]] = {
    "amount": Amount,
    "stated": Stated,
    "number": Number,
    "percent": Percent,
    "day": Day,
}


def is_said(value: object) -> bool:
    """Tell whether a value is a message that other languages say otherwise: no text alone."""
    if not isinstance(value, Message):
        return False
    saying = value.saying
    return not (isinstance(saying, Joined) and all(type(part) is str for part in saying.parts))


SAID = "said"
"""Under this key stands again what a record tells people, so that it can be said in every language;
who does not know the key reads the English."""


def with_said(detail: Mapping[str, Any]) -> Mapping[str, Any]:
    """Return what a record says, and beside it the messages in it as phrases and values."""
    said = {name: as_plain(value) for name, value in detail.items() if is_said(value)}
    return {**detail, SAID: said} if said else detail


def said_again(detail: Mapping[str, Any], names: Iterable[str]) -> Mapping[str, Any]:
    """Return what a record says with the messages of those names; else, with their English.

    What is no text at all is left as it is, for whoever reads its kind to refuse.
    """
    texts = {name: text for name in names if isinstance(text := detail[name], str)}
    said = detail.get(SAID)
    return {**detail, **{name: _again(text, said, name) for name, text in texts.items()}}


def _again(text: str, said: object, name: str) -> Message:
    if isinstance(text, Message):
        return text
    with suppress(ValueError):
        told = of_plain(said[name]) if isinstance(said, Mapping) and name in said else text
        if isinstance(told, Message) and told == text:
            return told
    return message_of(text)


def as_plain(told: Said) -> Any:
    """Return a message, or a value, as plain JSON."""
    if isinstance(told, Message):
        return _saying(told)
    for name, kind in _VALUES.items():
        if isinstance(told, kind):
            return {name: [getattr(told, field) for field in kind.__slots__]}
    return told


def _saying(message: Message) -> Mapping[str, Any]:
    saying = message.saying
    if isinstance(saying, Phrase):
        values = {name: as_plain(value) for name, value in saying.values.items()}
        counted = {"many": saying.many, "number": saying.number} if saying.many else {}
        return {"phrase": saying.one, "values": values, **counted}
    if isinstance(saying, Joined):
        return {"joined": [as_plain(part) for part in saying.parts], "between": saying.between}
    if isinstance(saying, Table):
        rows = [[as_plain(cell) for cell in row] for row in saying.rows]
        return {"table": rows, "right": sorted(saying.right)}
    return {"begun": as_plain(saying.told), "end": saying.end}


def of_plain(data: object) -> Said:
    """Return what plain JSON says.

    Raises
    ------
    ValueError
        If it is none of ours, or lacks what it cannot do without.
    """
    try:
        return _of(data)
    except (TypeError, ValueError, LookupError, AttributeError, OverflowError) as fault:
        raise ValueError(f"no message: {fault}") from None


def _of(data: Any) -> Said:
    if isinstance(data, str | int):
        return data
    if "phrase" in data:
        values = {name: _of(value) for name, value in data["values"].items()}
        many = data.get("many", "")
        return Message(Phrase(data["phrase"], values, many, data.get("number", 1.0)))
    if "joined" in data:
        return Message(Joined(tuple(map(_of, data["joined"])), data["between"]))
    if "table" in data:
        rows = tuple(tuple(map(_of, row)) for row in data["table"])
        return Message(Table(rows, frozenset(data["right"])))
    if "begun" in data:
        return Message(Begun(_of(data["begun"]), data["end"]))
    [(name, given)] = data.items()
    said: Said = _VALUES[name](*given)
    return said
