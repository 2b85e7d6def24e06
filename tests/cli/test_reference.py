"""The command line explains itself, and the generated pages are what the program says."""

import importlib.util
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def generator():
    spec = importlib.util.spec_from_file_location("generate", ROOT / "docs" / "generate.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def pages():
    """Make every generated page, by its file."""
    return generator().pages()


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
