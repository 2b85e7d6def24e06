"""What the page on cheating says is stopped: by a test that exists."""

import re
from pathlib import Path

HOUSE = Path(__file__).parents[2]
PAGE = HOUSE / "docs" / "explanation" / "who-could-cheat-whom.md"
NAMED = re.compile(r"`(tests/[\w/]+\.py)::(test_\w+)`")


def named(text: str) -> set[tuple[str, str]]:
    """Return file and name of each test that a text names."""
    return {(match[1], match[2]) for match in NAMED.finditer(text)}


def is_there(file: str, name: str) -> bool:
    path = HOUSE / file
    return path.is_file() and f"def {name}(" in path.read_text(encoding="utf-8")


def test_each_test_that_the_page_names_exists():
    """A claim whose test was renamed or dropped is found here."""
    tests = named(PAGE.read_text(encoding="utf-8"))
    assert tests
    assert {one for one in tests if not is_there(*one)} == set()


def test_each_row_that_says_what_stops_something_names_a_test():
    """A table with the column `test` has no row without one, but for one that points to others."""
    text = PAGE.read_text(encoding="utf-8")
    tables = [part for part in text.split("\n\n") if part.startswith("| with what | what stops it")]
    rows = [row for table in tables for row in table.splitlines()[2:]]
    assert len(rows) > 15
    assert [row for row in rows if not named(row) and "see above" not in row] == []
