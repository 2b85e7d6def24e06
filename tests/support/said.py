"""What a report says, taken apart: its messages, their phrases, and what people typed in them."""

import re
from collections.abc import Iterator, Mapping
from html.parser import HTMLParser
from pathlib import Path
from string import Formatter
from typing import Any

from babel.messages.pofile import read_po

from soak.report.contents.parts import Part
from soak.words import Begun, Joined, Message, Phrase

LANGUAGES = Path(__file__).parents[2] / "soak" / "languages"
WORDS = re.compile(r"[^\W\d_]{2,}")


def messages(told: Any) -> Iterator[Message]:
    """Yield each message of a report or of a part of it."""
    if isinstance(told, Message):
        yield told
    elif isinstance(told, Part):
        for name in type(told).model_fields:
            yield from messages(getattr(told, name))
    elif isinstance(told, tuple | list):
        for one in told:
            yield from messages(one)


def _inside(message: Message) -> Iterator[Any]:
    saying = message.saying
    if isinstance(saying, Phrase):
        yield from saying.values.values()
    elif isinstance(saying, Joined):
        yield from saying.parts
    elif isinstance(saying, Begun):
        yield saying.told


def phrases(message: Message) -> Iterator[Phrase]:
    """Yield each phrase that a message is made of."""
    if isinstance(message.saying, Phrase):
        yield message.saying
    for one in _inside(message):
        if isinstance(one, Message):
            yield from phrases(one)


def typed(message: Message) -> Iterator[str]:
    """Yield each text in a message that nobody is to translate."""
    for one in _inside(message):
        if isinstance(one, Message):
            yield from typed(one)
        elif isinstance(one, str):
            yield one


def plain_texts(told: Any) -> Iterator[str]:
    """Yield each text of a report that is no message: ids, names, what was typed."""
    if isinstance(told, Message):
        return
    if isinstance(told, str):
        yield told
    elif isinstance(told, Part):
        for name in type(told).model_fields:
            yield from plain_texts(getattr(told, name))
    elif isinstance(told, tuple | list):
        for one in told:
            yield from plain_texts(one)


def catalogue(code: str) -> Mapping[str, tuple[str, ...]]:
    """Return a language's words by the phrase; of a counted one by each of its two phrases."""
    found = {}
    for file in sorted((LANGUAGES / code).glob("*.po")):
        with file.open("rb") as source:
            for message in read_po(source, locale=code):
                forms = message.id if isinstance(message.id, tuple) else (message.id,)
                words = message.string if isinstance(message.string, tuple) else (message.string,)
                if forms[0] and all(words) and not message.fuzzy:
                    found |= dict.fromkeys(forms, words)
    return found


def pieces(phrase: str) -> list[str]:
    """Return the words of a phrase between its places, where they are two or more."""
    parts = [text for text, *_ in Formatter().parse(phrase)]
    return [part.strip(" .,;:") for part in parts if len(WORDS.findall(part)) > 1]


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.hidden = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.hidden += tag == "style"
        self.words += [value for name, value in attrs if name in ("alt", "data-word") and value]

    def handle_endtag(self, tag: str) -> None:
        self.hidden -= tag == "style"

    def handle_data(self, data: str) -> None:
        if not self.hidden:
            self.words.append(data)


def text_of_page(page: str) -> str:
    """Return all that a page tells a reader: text, drawings' words, words for pictures."""
    reader = _Reader()
    reader.feed(page)
    reader.close()
    return "\n".join(reader.words)
