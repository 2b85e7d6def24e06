"""What the judge says of the stored journals is made of phrases that every language has."""

import importlib.util
from functools import cache
from pathlib import Path

import pytest
from stilted import stilted
from stored import families, jobs_of

from soak.errors import UsageError
from soak.judge.grade import judge
from soak.judge.judging import demanded, rule_of
from soak.language import codes, language
from soak.report.contents.wording import limit_words, reads_of
from soak.words import Begun, Joined, Message, Phrase

EVERY = 4
"""Of so many jobs one is judged here; all of them are where figures are compared."""
GENERATOR = Path(__file__).parents[2] / "docs" / "generate.py"


@cache
def known() -> frozenset[str]:
    """Return every phrase that stands in the code, one of its forms each."""
    spec = importlib.util.spec_from_file_location("generate", GENERATOR)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    found = (phrase for own in module.phrases().values() for phrase in own)
    return frozenset(one if isinstance(one, str) else one[0] for one in found)


def phrases_in(told: object):
    """Yield each phrase that a message is made of."""
    saying = told.saying if isinstance(told, Message) else None
    if isinstance(saying, Phrase):
        yield saying.one
        for value in saying.values.values():
            yield from phrases_in(value)
    elif isinstance(saying, Joined):
        for part in saying.parts:
            yield from phrases_in(part)
    elif isinstance(saying, Begun):
        yield from phrases_in(saying.told)


def said_by(judgement):
    """Yield everything that a judgement says, with where it says so."""
    yield "reason", judgement.reason
    yield "aside", judgement.aside
    for point in judgement.open_points:
        yield "open point", point
    for finding in judgement.findings:
        need = finding.requirement
        reads = reads_of(need)
        for part in ("because", "why", "aside", "method"):
            yield f"{need.rule}: {part}", getattr(finding, part)
        for pointer in finding.pointers:
            yield f"{need.rule}: pointer", pointer.what
        yield f"{need.rule}: found", reads.found(finding)
        yield f"{need.rule}: margin", reads.margin(finding)
        yield f"{need.rule}: bound", reads.bound(finding)
        yield f"{need.rule}: limit", limit_words(need)
        if rule_of(need) is not None:
            yield f"{need.rule}: demand", demanded(need)


@pytest.mark.parametrize("family", families())
def test_everything_the_judge_says_is_in_the_catalogues(family):
    """No sentence is put together out of a page's sight, in any finding of the corpus."""
    wrong = set()
    for job in jobs_of(family)[::EVERY]:
        try:
            judgement = judge(job.soaks(), job.script)
        except UsageError:
            continue
        for where, told in said_by(judgement):
            if not isinstance(told, Message):
                wrong.add(f"{where}: {told!r} is no message")
            wrong |= {f"{where}: {one!r}" for one in phrases_in(told) if one and one not in known()}
            wrong |= {f"{where}: {what}: {line}" for what, line in stilted(told)}
            for code in codes():
                assert isinstance(language(code).say(told), str)
    assert wrong == set()
