"""What is said to people: a message is a phrase and its values; its words come last.

The phrase is English and is the key of every other language's catalogue (`soak.language`). What
stands in its places keeps its type, so that a number gets the reader's decimal sign, a message its
translation, and what a person typed stays as typed.

A `Message` is also a `str`: its English. Nothing may take it apart or put it into an f-string,
which would lose all but the English; to say more, put messages together with the functions here.
"""

import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from string import Formatter
from typing import Any, Protocol, TypeAlias

from soak.quantities import show_value


@dataclass(frozen=True, slots=True)
class Amount:
    """A value with its measurement unit, written as `soak.quantities.show_value` writes it."""

    value: float
    unit: str


@dataclass(frozen=True, slots=True)
class Stated:
    """A value as somebody stated it, a limit or a setting: no more digits than it has."""

    value: float
    unit: str


@dataclass(frozen=True, slots=True)
class Number:
    """A bare number and how it is written: a format such as `".3g"`; `","` groups its digits."""

    value: float
    form: str = ".3g"


@dataclass(frozen=True, slots=True)
class Percent:
    """A share, 0 to 1, written in percent with so many decimals."""

    share: float
    decimals: int = 0


@dataclass(frozen=True, slots=True)
class Day:
    """A day, RFC 3339, written out as the reader writes dates."""

    on: str


class Speaker(Protocol):
    """One language, as far as messages need it."""

    def phrase(self, one: str) -> str:
        """Return a phrase in the language."""
        ...

    def counted(self, one: str, many: str, number: float) -> str:
        """Return the phrase for a number of things in the language."""
        ...

    def decimal(self, text: str) -> str:
        """Write the decimal point of a number as the language does."""
        ...

    def day(self, day: date) -> str:
        """Write a day."""
        ...

    def all_of(self, parts: list[str]) -> str:
        """Write parts one after the other, the last with "and"."""
        ...


@dataclass(frozen=True, slots=True)
class Phrase:
    """A phrase with its values; of a counted one `many` and the number."""

    one: str
    values: Mapping[str, "Said"]
    many: str = ""
    number: float = 1.0

    def spoken(self, speaks: Speaker) -> str:
        """Say it."""
        text = (
            speaks.counted(self.one, self.many, self.number)
            if self.many
            else speaks.phrase(self.one)
        )
        return _FORMAT.vformat(
            text, (), {name: said(value, speaks) for name, value in self.values.items()}
        )


@dataclass(frozen=True, slots=True)
class Joined:
    """Messages one after the other; between them a sign, or as a list that ends with "and"."""

    parts: tuple["Said", ...]
    between: str | None

    def spoken(self, speaks: Speaker) -> str:
        """Say it."""
        parts = [said(part, speaks) for part in self.parts]
        return speaks.all_of(parts) if self.between is None else self.between.join(parts)


@dataclass(frozen=True, slots=True)
class Begun:
    """A message with its first letter in upper case, and perhaps a sign at its end."""

    told: "Said"
    end: str

    def spoken(self, speaks: Speaker) -> str:
        """Say it."""
        text = said(self.told, speaks)
        return _capital(text[:1]) + text[1:] + self.end


@dataclass(frozen=True, slots=True)
class Table:
    """Rows of cells, a line each; a column is as wide as its widest words in that language.

    Attributes
    ----------
    right : frozenset of int
        The columns that stand at the right, such as those of numbers.
    """

    rows: tuple[tuple["Said", ...], ...]
    right: frozenset[int] = frozenset()

    def spoken(self, speaks: Speaker) -> str:
        """Say it."""
        rows = [[said(cell, speaks) for cell in row] for row in self.rows]
        widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
        lines = [
            "  ".join(
                cell.rjust(width) if at in self.right else cell.ljust(width)
                for at, (cell, width) in enumerate(zip(row, widths, strict=True))
            )
            for row in rows
        ]
        return "\n".join(line.rstrip() for line in lines)


def _capital(letter: str) -> str:
    """Return a letter's upper case; where that is of another script (µ) or several (ß), itself."""
    upper = letter.upper()
    same = len(upper) == 1 and _script(upper) == _script(letter)
    return upper if same else letter


def _script(letter: str) -> str:
    return unicodedata.name(letter, "").partition(" ")[0]


Saying: TypeAlias = Phrase | Joined | Begun | Table
_FORMAT = Formatter()


class Message(str):
    """What is said, before it has words; as a `str` it is its English.

    Attributes
    ----------
    saying : Saying
        The phrase with its values, or messages put together.
    """

    __slots__ = ("saying",)
    saying: Saying

    def __new__(cls, saying: Saying) -> "Message":
        message = super().__new__(cls, saying.spoken(ENGLISH))
        message.saying = saying
        return message

    def __reduce__(self) -> tuple[Any, ...]:
        return Message, (self.saying,)


class Data(str):
    """What is said as it is, in no language: JSON, a table, lines for a file.

    Or words that were said already, and broken into lines as wide as a screen.
    """

    __slots__ = ()


Output: TypeAlias = Message | Data
"""What a verb prints."""


Said: TypeAlias = Message | Amount | Stated | Number | Percent | Day | int | str
"""What may stand in a place; a plain `str` is what a person or an instrument gave."""


Tell: TypeAlias = Callable[[Output], None]
"""Tells the operator a line; what is printed at last is said in the reader's language."""


class _English:
    """The language that phrases are written in."""

    def phrase(self, one: str) -> str:
        return one

    def counted(self, one: str, many: str, number: float) -> str:
        return one if number == 1 else many

    def decimal(self, text: str) -> str:
        return text

    def day(self, day: date) -> str:
        return day.isoformat()

    def all_of(self, parts: list[str]) -> str:
        return " and ".join([*([", ".join(parts[:-1])] if parts[:-1] else []), *parts[-1:]])


ENGLISH: Speaker = _English()


def said(value: Said, speaks: Speaker) -> str:
    """Say a value in a language.

    Raises
    ------
    TypeError
        If it is a bare `float`, whose writing nobody decided, or nothing that can be said.
    """
    if isinstance(value, Message):
        return value.saying.spoken(speaks)
    if isinstance(value, str):
        return value
    if isinstance(value, Amount):
        if value.unit == "1/h":
            return said(msg("{number} per h", number=Number(value.value)), speaks)
        return speaks.decimal(show_value(value.value, value.unit))
    if isinstance(value, Stated):
        unit = "°C" if value.unit == "degC" else value.unit
        return speaks.decimal(f"{_as_stated(value.value)} {unit}")
    if isinstance(value, Number):
        return speaks.decimal(_written(value))
    if isinstance(value, Percent):
        # Adding nought turns the "-0" of a tiny negative share into "0".
        return speaks.decimal(
            f"{round(100 * value.share, value.decimals) + 0:.{value.decimals}f} %"
        )
    if isinstance(value, Day):
        return speaks.day(date.fromisoformat(value.on[:10]))
    if isinstance(value, int):
        return str(value)
    raise TypeError(f"{value!r} cannot be said: give an Amount, a Number or a Percent")


def _written(number: Number) -> str:
    if number.form == ",":  # a narrow space between groups, as ISO 80000-1:2022 7.3.1 has it
        return f"{number.value:,.0f}".replace(",", " ")
    return _as_stated(number.value) if number.form == "g" else format(number.value, number.form)


def _as_stated(value: float) -> str:
    # From a million on "g" writes a power of ten and drops digits.
    return f"{value:g}" if abs(value) < 1e6 else f"{value:.0f}"


def msg(phrase: str, /, **values: Said) -> Message:
    """Make a message of a phrase and what stands in its places.

    Parameters
    ----------
    phrase : str
        A literal, in small letters unless it is a whole sentence; the catalogues are made from the
        literals in the code.

    Raises
    ------
    KeyError
        If a place has no value.
    """
    return Message(Phrase(phrase, values))


def counted(
    number: float, one: str, many: str, /, none: Message | None = None, **values: Said
) -> Message:
    """Make a message of a number of things.

    Parameters
    ----------
    one, many : str
        Literals; `{count}` in them is the number. Other languages may have more forms.
    none : Message or None
        What is said of none.
    """
    if number == 0 and none is not None:
        return none
    shown = int(number) if float(number).is_integer() else Number(number, "g")
    return Message(Phrase(one, {"count": shown, **values}, many, number))


def just(value: Said) -> Message:
    """Make a message of a value alone."""
    return joined("", [value])


def message_of(text: str) -> Message:
    """Return a text as a message; one that is none says itself in every language."""
    return text if isinstance(text, Message) else just(text)


def begin(told: Said) -> Message:
    """Let a message begin with a capital letter."""
    return Message(Begun(told, ""))


def sentence(told: Said, end: str = ".") -> Message:
    """Make a sentence: a capital letter at its beginning, a sign at its end."""
    return Message(Begun(told, end))


def paragraph(*told: Said | None) -> Message:
    """Put sentences one after the other; what is empty or None is left out."""
    return joined(" ", told)


def joined(between: str, told: Iterable[Said | None]) -> Message:
    """Put messages one after the other with a sign between; what is empty or None is left out."""
    return Message(Joined(_some(told), between))


def all_of(told: Iterable[Said | None]) -> Message:
    """List messages, the last with "and"; what is empty or None is left out."""
    return Message(Joined(_some(told), None))


def lines_of(told: Iterable[Said | None]) -> Message:
    """Put lines one below the other; what is empty or None is left out."""
    return joined("\n", told)


def indented(told: Said, by: str = "  ") -> Message:
    """Set a line in by some spaces."""
    return joined("", [by, told])


def in_brackets(told: Said) -> Message:
    """Put words in brackets."""
    return joined("", ["(", told, ")"])


def table(rows: Iterable[Sequence[Said]], right: Iterable[int] = ()) -> Message:
    """Put rows of as many cells each one below the other, in columns; `right` are numbers'."""
    return Message(Table(tuple(map(tuple, rows)), frozenset(right)))


def _some(told: Iterable[Said | None]) -> tuple[Said, ...]:
    return tuple(part for part in told if part is not None and part != "")


NOTHING_SAID = paragraph()
"""The empty message."""


def typed_in(message: Message, change: Callable[[str], Said]) -> Message:
    """Return a message with each text that a person or an instrument gave changed.

    For pages that must not show what was typed freely: the program's own words and data stay.
    """

    def changed(value: Said) -> Said:
        if isinstance(value, Message):
            return typed_in(value, change)
        return change(value) if isinstance(value, str) and not isinstance(value, Data) else value

    saying = message.saying
    if isinstance(saying, Phrase):
        values = {name: changed(value) for name, value in saying.values.items()}
        return Message(Phrase(saying.one, values, saying.many, saying.number))
    if isinstance(saying, Joined):
        return Message(Joined(tuple(map(changed, saying.parts)), saying.between))
    if isinstance(saying, Table):
        rows = tuple(tuple(map(changed, row)) for row in saying.rows)
        return Message(Table(rows, saying.right))
    return Message(Begun(changed(saying.told), saying.end))
