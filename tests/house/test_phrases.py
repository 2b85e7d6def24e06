"""The house rule of messages: phrases stand in the code as literals, and every language has all."""

import ast
import importlib.util
import re
from pathlib import Path
from string import Formatter

import pytest
from babel.messages.pofile import read_po

from soak.language import codes

HOUSE = Path(__file__).parents[2]
MAKERS = {"msg": (0,), "counted": (1, 2)}
"""Which arguments of each maker of messages are phrases."""


def places(phrase: str) -> set[str]:
    """Return the names of a phrase's places."""
    return {name for _, name, _, _ in Formatter().parse(phrase) if name is not None}


def calls(source: str):
    """Yield each call of a maker of messages."""
    for node in ast.walk(ast.parse(source)):
        called = node.func if isinstance(node, ast.Call) else None
        if isinstance(called, ast.Name) and called.id in MAKERS:
            yield node


def wrong_calls(source: str) -> list[str]:
    """Return what is wrong with the calls of makers of messages in some code."""
    found = []
    for node in calls(source):
        given = {one.arg for one in node.keywords} - {"none"}
        if None in given:
            found.append(f"line {node.lineno}: values are named one by one")
            continue
        own = {"count"} if node.func.id == "counted" else set()
        for at in MAKERS[node.func.id]:
            phrase = node.args[at] if at < len(node.args) else None
            if not isinstance(phrase, ast.Constant) or not isinstance(phrase.value, str):
                found.append(f"line {node.lineno}: a phrase is a literal")
            elif places(phrase.value) - own - given:
                lacking = ", ".join(sorted(places(phrase.value) - own - given))
                found.append(f"line {node.lineno}: no value for {lacking}")
    return found


def generator():
    spec = importlib.util.spec_from_file_location("generate", HOUSE / "docs" / "generate.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_every_phrase_is_a_literal_with_a_value_in_each_place():
    """A phrase in a variable would be in no catalogue, and a place without a value would raise."""
    wrong = {
        str(path.relative_to(HOUSE)): found
        for path in sorted((HOUSE / "soak").rglob("*.py"))
        if path.name != "words.py" and (found := wrong_calls(path.read_text(encoding="utf-8")))
    }
    assert wrong == {}


@pytest.mark.parametrize(
    ("source", "told"),
    [
        ("msg(text)", "a phrase is a literal"),
        ("msg(f'{n} starts')", "a phrase is a literal"),
        ("msg('{a} of {b}', a=1)", "no value for b"),
        ("counted(3, '1 start', many)", "a phrase is a literal"),
        ("msg('{a}', **values)", "values are named one by one"),
    ],
)
def test_the_rule_sees_each_mistake(source, told):
    """A rule that could not fail would guard nothing."""
    assert told in wrong_calls(source)[0]


SAYERS = frozenset({"say_line", "echo", "say", "_say", "Question", "progress", "tell", "told"})
"""Who says something to the operator: what they are given is a message, or was one."""
WORDS = re.compile(r"[a-z]{2,}")


def said_plainly(source: str) -> list[str]:
    """Return what is said to the operator as a plain text, which no catalogue has."""
    found = []
    for node in ast.walk(ast.parse(source)):
        called = getattr(node, "func", None)
        name = getattr(called, "id", getattr(called, "attr", ""))
        if name in SAYERS and getattr(getattr(called, "value", None), "id", "") != "typer":
            told = node.args[1:2] if name == "Question" else node.args[:1]
            parts = [part for one in told for part in _texts(one)]
            if any(WORDS.search(part) for part in parts):
                found.append(f"line {node.lineno}: {name} says {parts[0]!r}")
    return found


def _texts(node: ast.expr) -> list[str]:
    """Return the literal texts of an argument that is a plain text."""
    if isinstance(node, ast.JoinedStr):
        return [one.value for one in node.values if isinstance(one, ast.Constant)]
    return [node.value] if isinstance(node, ast.Constant) and isinstance(node.value, str) else []


SPOKEN = ("cli", "live", "desk", "checks", "run", "bench/drivers/by_hand.py")
"""Where questions are made and lines are said."""
OTHERS = {"run/power.py", "bench/serial"}
"""Here `say` means another thing: to publish a state, to talk to an instrument."""


def test_no_question_and_no_line_is_a_plain_text():
    """What an operator reads is a message until it is said, so that every language has it."""
    soak = HOUSE / "soak"
    files = {
        path.relative_to(soak).as_posix(): path
        for path in sorted(soak.rglob("*.py"))
        if path.relative_to(soak).as_posix().startswith(SPOKEN)
    }
    wrong = {
        name: found
        for name, path in files.items()
        if name not in OTHERS and (found := said_plainly(path.read_text(encoding="utf-8")))
    }
    assert wrong == {}


@pytest.mark.parametrize(
    "source",
    [
        "say_line('the switch is gone')",
        "self.say(f'{unit} stalls')",
        "Question('look', 'Is it closed?', 'yes/no')",
        "echo(f'kept {file}')",
    ],
)
def test_the_rule_sees_each_plain_text(source):
    """It could fail."""
    assert said_plainly(source) != []


JOINERS = frozenset(
    {"just", "Data", "joined", "paragraph", "all_of", "lines_of", "indented", "table", "begin"}
    | {"sentence", "in_brackets", "remark", "remarked", "pasted", "message_of"}
)
"""What makes messages of others, or of what nobody translates."""
SENTENCE = re.compile(r"[a-z]{2,} [a-z]{2,}")


def put_plainly(source: str) -> list[str]:
    """Return what is put into a message as a plain text that is a sentence of ours."""
    found = []
    for node in ast.walk(ast.parse(source)):
        name = getattr(getattr(node, "func", None), "id", "")
        if name not in JOINERS | MAKERS.keys():
            continue
        given = [one.value for one in node.keywords]
        given += node.args if name in JOINERS else []
        lists = [one.elts for one in given if isinstance(one, ast.List | ast.Tuple)]
        for told in [*given, *(one for elements in lists for one in elements)]:
            text = " ".join(_texts(told))
            if SENTENCE.search(text) and not text.startswith("soak "):  # a command to type
                found.append(f"line {node.lineno}: {name} of {_texts(told)}")
    return found


def test_no_message_is_made_of_a_plain_sentence():
    """`echo` and `say_line` take messages only, as mypy sees to; none of them is English alone."""
    wrong = {
        path.name: found
        for path in sorted((HOUSE / "soak").rglob("*.py"))
        if (found := put_plainly(path.read_text(encoding="utf-8")))
    }
    assert wrong == {}


@pytest.mark.parametrize(
    "source",
    [
        "just('the switch is gone')",
        "joined(': ', [unit, f'it stalls {often}'])",
        "msg('{a}: {b}', a=unit, b='nothing is wired')",
        "Data(f'{unit} is not ready')",
    ],
)
def test_the_rule_sees_each_plain_sentence(source):
    """It could fail, too."""
    assert put_plainly(source) != []


@pytest.mark.parametrize("code", [code for code in codes() if code != "en"])
def test_a_language_has_every_phrase(code):
    """No phrase is without words, guessed, or short of a place, in any of its forms."""
    said = {}
    for file in sorted((HOUSE / "soak" / "languages" / code).glob("*.po")):
        with file.open("rb") as source:
            said |= {message.id: message for message in read_po(source, locale=code) if message.id}
    wrong = []
    for own in generator().phrases().values():
        for phrase in own:
            message = said.get(phrase)
            forms = (phrase,) if isinstance(phrase, str) else phrase
            words = message.string if message else ""
            words = (words,) if isinstance(words, str) else words
            if message is None or message.fuzzy or not all(words):
                wrong.append(f"no words for {phrase!r}")
                continue
            wanted = set.union(*map(places, forms))
            # A form for exactly one may leave the number out.
            if any(places(one) | {"count"} != wanted | {"count"} for one in words):
                wrong.append(f"other places in {phrase!r}")
    assert wrong == []


def test_no_phrase_is_counted_here_and_plain_there():
    """A catalogue holds one entry for a text: of two, one would lose its words without a sign."""
    found = [one for own in generator().phrases().values() for one in own]
    plain = {one for one in found if isinstance(one, str)}
    assert [one for one in found if not isinstance(one, str) and one[0] in plain] == []
