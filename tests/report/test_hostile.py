"""Text of other people is harmless wherever the report prints it."""

import re
from html.parser import HTMLParser

import pytest

from soak.records import Attachment, Mark
from soak.report.content import gather
from soak.report.files import as_json
from soak.report.html import page
from soak.report.model import Report
from soak.report.privacy import for_buyer

HOSTILE = [
    "</style><script>alert(1)</script><img src=x onerror=alert(1)>",
    '"><svg onload=alert(1)>',
    "{{ 7*7 }}{% raw %}",
    "javascript:alert(1)",
    "\u202egpj.exe\u2066\u200b",
    "\x00\x07\x1b[31m\r\n\t\x85",
    "\ud800 lone surrogate",
    "]]><!--",
    "🐦‍⬛ 鷗 قطرس " * 40,
    "A" * 10_000,
]


def poisoned(words: str, make_night, make_judgement, make_context):
    """Return a sheet in which every free text is `words`."""
    night = make_night()
    header = night.header
    unit = {
        "serial": words, "tag": words, "model": words,
        "repairs": [{"id": "r", "what": words, "function": words, "kind": words, "on": words}],
        "wiped": {"how": words, "verified": words, "by": words, "on": words},
    }  # fmt: skip
    sheet = {
        **header.model_sheet, "kind": words,
        "functions": {"f": {"text": words, "key": True, "check": ""}},
        "spots": {"outside": {"text": words}},
    }  # fmt: skip
    script = {"name": words, "about": words, "stretches": [{"name": "run", "lasts_s": 5.0}]}
    fixture = {
        **header.fixture,
        "switch": {"driver": words, "identity": {words[:20] or "x": words}, "note": words},
    }
    earlier = [{"soak_id": words, "script": words, "grade": words, "on": words}]
    # A journal's header is canonical JSON (RFC 8785), so it cannot hold a lone surrogate.
    safe = words.encode("utf-8", "replace").decode()
    night = make_night(
        unit=unit, model_sheet=sheet, fixture=fixture, script={**script, "name": safe,
        "about": safe}, references={"earlier_soaks": earlier}, soak_id=words, job_id=words,
    )  # fmt: skip
    night.marked += [
        Mark(9000.0, "note", "run", "", {"text": words, "by": words}),
        Mark(9001.0, "question", "run", "", {"id": words, "text": words}),
        Mark(9002.0, "answer", "run", "", {"id": words, "answer": words, "by": words}),
        Mark(9003.0, "bench fault", "run", "", {"instrument": words, "what": words}),
    ]
    night.files.append(
        (Attachment(9004.0, words, "image/png", words, words, {"shows": words, "state": words}),
         b"\x89PNG\r\n\x1a\n" + words.encode("utf-8", "replace"))
    )  # fmt: skip
    judgement = make_judgement(reason=words, open_points=(words,), rules=words)
    context = make_context(
        bench=words, address=words, authorised_by=words, condition=words, known_defects=(words,),
        deviations=(words,), customer=words,
    )  # fmt: skip
    return gather(judgement, [night], context)


@pytest.mark.parametrize("words", HOSTILE, ids=lambda words: ascii(words[:12]))
def test_no_text_can_break_out_of_its_place(words, make_night, make_judgement, make_context):
    """The page has the elements it has with plain words, and no control or reversing character."""
    sheet = poisoned(words, make_night, make_judgement, make_context)
    plain = poisoned("plain", make_night, make_judgement, make_context)
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
def test_the_json_of_hostile_text_reads_back(words, make_night, make_judgement, make_context):
    """Whatever was typed, the JSON is JSON and validates against the model."""
    said = poisoned(words, make_night, make_judgement, make_context).report
    assert Report.model_validate_json(as_json(said)) == said
