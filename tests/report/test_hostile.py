"""Text of other people is harmless wherever the report prints it."""

import json
import re
from html.parser import HTMLParser

import pytest
from made_up_report import HOSTILE, poisoned

from soak.report.output.files import as_json
from soak.report.output.html import page
from soak.report.output.privacy import for_buyer


@pytest.mark.parametrize("words", HOSTILE, ids=lambda words: ascii(words[:12]))
def test_no_text_can_break_out_of_its_place(words):
    """The page has the elements it has with plain words, and no control or reversing character."""
    sheet = poisoned(words)
    plain = poisoned("plain")
    for made, usual in ((sheet, plain), (for_buyer(sheet), for_buyer(plain))):
        text = page(made)
        assert elements(text) == elements(page(usual))
        assert not re.search("[\x00-\x08\x0b-\x1f\x7f-\x9f\u200b\u202a-\u202e\u2066-\u2069]", text)
        assert not handlers(text)
        text.encode("utf-8")
        assert len(text) < 600_000


def handlers(text: str) -> list[str]:
    """Return the attributes that would run something."""
    found: list[str] = []

    class Reader(HTMLParser):
        def handle_starttag(self, tag, attrs):
            found.extend(name for name, _ in attrs if name.startswith("on"))

    reader = Reader()
    reader.feed(text)
    reader.close()
    return found


def elements(text: str) -> list[str]:
    """Return the names of the page's elements in order, the drawings' left out."""
    outside = re.sub(r"<svg .*?</svg>", "", text, flags=re.DOTALL)
    return re.findall(r"<([a-zA-Z!][\w-]*)", outside)


@pytest.mark.parametrize("words", HOSTILE, ids=lambda words: ascii(words[:12]))
def test_the_json_of_hostile_text_reads_back(words):
    """Whatever was typed, the JSON is JSON, and holds what the model does."""
    said = poisoned(words).report
    assert json.loads(as_json(said)) == said.model_dump(mode="json")
