"""The command line explains itself, and the generated pages are what the program says."""

import importlib
import re
import subprocess
import sys

import pytest

SENTENCE = re.compile(r"[A-Z0-9`\"].*[.?]$")
"""A capital or a word to be typed at the beginning, a full stop at the end."""


@pytest.fixture(scope="module")
def generator():
    """Load what writes the pages, as `make docs` does."""
    return importlib.import_module("generate")


@pytest.fixture(scope="module")
def keys(generator):
    """Give what writes the pages of keys."""
    return importlib.import_module(generator.key_pages.__module__)


@pytest.fixture(scope="module")
def pages(generator):
    """Make every generated page, by its file."""
    return generator.pages()


def test_no_generated_page_is_stale(pages):
    """What is committed is what the program would write now; `make docs` mends it."""
    assert len(pages) > 10
    stale = [file.name for file, text in pages.items() if file.read_text("utf-8") != text]
    assert not stale


def test_every_verb_has_help_and_an_example(pages):
    """A verb says what it does and shows one real command line; a group lists its verbs."""
    page = next(text for file, text in pages.items() if file.name == "cli.md")
    sections = page.split("\n## ")[2:]
    assert len(sections) > 20
    for section in sections:
        name = section.split("\n")[0]
        shown = (f"Example: {name} ", f"Example: {name}\n", "Commands:")
        assert any(one in section for one in shown), name


def test_every_key_says_in_a_sentence_of_its_own_what_it_means(keys):
    """Nothing that a file may hold is left to be guessed, and no two keys share their words."""
    found = list(dict.fromkeys(keys.tables()))
    assert len(found) > 70
    for table in found:
        meaning = keys.meanings(table)
        told = [(name, meaning.get(name, "")) for name in keys.keys_of(table)]
        wrong = [name for name, text in told if not SENTENCE.match(text)]
        assert not wrong, f"{table.__name__}: {wrong}"
        assert len({text for _, text in told}) == len(told), table.__name__


def test_every_key_stands_in_the_reference_with_what_it_takes(keys):
    """A key of a driver, check, sheet, script or scene is found on a page, its range beside it."""
    page = "\n".join(keys.key_pages().values())
    for table in keys.tables():
        for name, kind in keys.keys_of(table).items():
            assert f"| `{name}` | " in page, (table.__name__, name)
            assert "a value" not in keys.allowed(kind), (table.__name__, name)
    assert "| `baud` | a whole number from 50 to 4000000 | `9600` | Speed of the serial" in page
    assert '| `silent_after_s` | a duration above 0 s | `"10 s"` | Without a reading' in page


def test_help_does_not_load_what_only_commands_need():
    """Help is quick because the heavy libraries are imported by the commands that need them."""
    heavy = ["numpy", "pandas", "scipy", "cv2", "sqlalchemy", "trio", "pydantic"]
    program = f"import sys, soak.cli.app; print([m for m in {heavy} if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize(
    ("rule", "limit"),
    [
        ("at least speed", "at least, in `Mb/s`"),
        ("no restart", "at most, in `1`"),
        ("port voltage", "between two, in `V`; the requirement's own is the lower one"),
        ("answered", "the answer that is wanted"),
        ("starts by plan", "as its plan accepts"),
    ],
)
def test_the_reference_tells_what_a_rules_limit_is(pages, rule, limit):
    """Neither an answer nor a plan is "at most", and a voltage has two limits."""
    page = next(text for file, text in pages.items() if file.name == "rules.md")
    own = page.split(f"### {rule}\n")[1].split("\n### ")[0]
    assert f"| limit | {limit} |" in own
