"""A language made for tests: every letter of a phrase is a wide one, so what is none stands out.

Run as a program it is the command `soak` in that language, for a terminal of its own.
"""

import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date
from string import Formatter

from soak import reader
from soak.language import Language

_WIDE = {code: code + 0xFEE0 for code in (*range(0x41, 0x5B), *range(0x61, 0x7B))}
_WORD = re.compile(r"[A-Za-z][A-Za-z'-]+")
_BY_COMMAND = re.compile(r"`[^`]*`")


def wide(phrase: str) -> str:
    """Return a phrase in the language; what stands in its places stays."""
    parts = []
    for text, name, form, _ in Formatter().parse(phrase):
        parts.append(text.translate(_WIDE).replace("{", "{{").replace("}", "}}"))
        parts.append("" if name is None else f"{{{name}{':' + form if form else ''}}}")
    return "".join(parts)


class Marked:
    """Speaks it."""

    def phrase(self, one: str) -> str:
        return wide(one)

    def counted(self, one: str, many: str, number: float) -> str:
        return wide(one if number == 1 else many)

    def decimal(self, text: str) -> str:
        return text

    def day(self, day: date) -> str:
        return day.isoformat()

    def all_of(self, parts: list[str]) -> str:
        return " & ".join(parts)


@contextmanager
def marked() -> Iterator[None]:
    """Let everything be said in it."""
    known = reader.language
    reader.language = lambda code: Language(code, Marked())
    reader.speak(lambda: "xx")
    try:
        yield
    finally:
        reader.language = known
        reader.speak(reader.of_environment)


@contextmanager
def speaking(code: str) -> Iterator[None]:
    """Let everything be said in a language that there is."""
    reader.speak(lambda: code)
    try:
        yield
    finally:
        reader.speak(reader.of_environment)


def plain_words(text: str, *names: str) -> list[str]:
    """Return the words that are in no phrase, but for names, units and what is typed at a shell."""
    for name in sorted(names, key=len, reverse=True):
        text = text.replace(name, "")
    return [one for one in _WORD.findall(text) if one not in UNITS]


UNITS = {"min", "ms", "degC", "Hz", "kB", "MB", "GB", "TB", "KiB", "MiB", "GiB", "dB", "Mb"}


if __name__ == "__main__":
    from soak.cli.main import main

    choose = reader.speak
    reader.speak = lambda _: None  # the language of the bench is not asked for
    with marked():
        choose(lambda: "xx")
        main()
