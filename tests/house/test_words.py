"""One word for one thing: what was renamed is gone from program, files, pages and help."""

import re
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path
from typing import get_args

import pytest
from short_soak import soak

from soak.marks import MARKS
from soak.records import KeptFile, Record, kind_of
from soak.report.output.files import COLUMNS

HOUSE = Path(__file__).parents[2]
READ = ("soak", "docs", "fixtures", "reports/sample", "README.md", "DEVELOPERS.md")
TEXT = {".py", ".md", ".toml", ".json", ".csv", ".txt", ".html", ".j2", ".css", ".typ"}

OLD = {
    "kept file": re.compile("attachment", re.IGNORECASE),
    "working state": re.compile("phase", re.IGNORECASE),
    "verdict, degree, decided": re.compile("outcome", re.IGNORECASE),
    "watcher": re.compile("looker", re.IGNORECASE),
    "stand-in": re.compile(r"(?<![a-z])agents?(?![a-z])", re.IGNORECASE),
    "bound_low, bound_high": re.compile(r"""["'](?:low|high)["']"""),
}
"""The word of now, and what it is no longer called."""

MEANT = {
    # Phase correlation: the method's name in its paper and in OpenCV.
    ("soak/measure/video/snow.py", "working state"),
    ("docs/reference/numbers.md", "working state"),  # made from there
    # The verifier within is another's text, taken over word for word.
    ("docs/check-a-report.html", "verdict, degree, decided"),
    ("docs/check-a-report-de.html", "verdict, degree, decided"),
}


def old_words(text: str) -> list[str]:
    """Return the words of now for which a text uses an old one."""
    return [now for now, old in OLD.items() if old.search(text)]


def read() -> Iterator[tuple[str, str]]:
    """Yield name and text of all that is read by people and programs."""
    for place in READ:
        path = HOUSE / place
        for file in [path] if path.is_file() else sorted(path.rglob("*")):
            if file.is_file() and file.suffix in TEXT:
                yield file.relative_to(HOUSE).as_posix(), file.read_text(encoding="utf-8")


def keys_of(value: object) -> Iterator[str]:
    """Yield every key within a JSON value."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield str(key)
            yield from keys_of(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            yield from keys_of(inner)


@pytest.mark.parametrize(
    ("text", "now"),
    [
        ("an Attachment of the soak", "kept file"),
        ("attachments/", "kept file"),
        ("phase_spans(course)", "working state"),
        ("Outcome.MET", "verdict, degree, decided"),
        ("make_looker(sheet)", "watcher"),
        ("run_agent", "stand-in"),
        ('{"low": 0.1}', "bound_low, bound_high"),
    ],
)
def test_an_old_word_is_found(text, now):
    """In whatever case, alone or in a name."""
    assert old_words(text) == [now]


@pytest.mark.parametrize("text", ["low speed", "attached", "emphasis", "magenta", "bound_low"])
def test_a_word_that_only_looks_like_one_is_let_be(text):
    """A port is attached, a link is of low speed."""
    assert old_words(text) == []


def test_no_old_word_stands_in_program_pages_help_or_reports():
    """The pages hold the help of every verb and the schema of the report, made from the program."""
    names = dict(read())
    assert {"docs/reference/cli.md", "docs/report-schema.json", "soak/records.py"} <= names.keys()
    found = {(name, now) for name, text in names.items() for now in old_words(text)}
    assert found == MEANT


def test_no_file_has_an_old_name():
    """Folders and files of the program and its pages."""
    names = [file.relative_to(HOUSE).as_posix() for file in (HOUSE / "soak").rglob("*.py")]
    names += [file.relative_to(HOUSE).as_posix() for file in (HOUSE / "docs").rglob("*")]
    assert {name: old_words(name) for name in names if old_words(name)} == {}


def test_no_key_of_a_journal_or_table_is_an_old_word(tmp_path):
    """Kinds, fields, marks, and the details of soaks that try the supply and read its current."""
    fixture = """\
[switch]
driver = "simulated"
sets_voltage = true
accuracy_v = 0.05
[capture]
driver = "simulated"
port = "video"
[probe.supply]
driver = "simulated"
unit = "A"
accuracy = 0.02
"""
    margin = {"starts": 1, "hold_s": 30, "off_s": 10, "breaks_s": [0.1], "times": 1}
    draw = {"running_s": 120, "settles_s": 20}
    run = soak(tmp_path, fixture, {"supply_margin": margin})
    drawn = soak(tmp_path, fixture, {"current_draw": draw})
    marks = [*run.marks, *drawn.marks]
    assert {"short break", "supply trial", "working state"} <= {mark.what for mark in marks}
    keys = {kind_of(KeptFile(0.0, "a", "", "", "")), *MARKS, *COLUMNS}
    keys |= {part.name for kind in MARKS.values() for part in fields(kind)}
    keys |= {part.name for record in get_args(Record) for part in fields(record)}
    keys |= {mark.what for mark in marks} | {key for mark in marks for key in keys_of(mark.detail)}
    for one in [*run.findings.values(), *drawn.findings.values()]:
        keys |= {*keys_of(one.detail), *keys_of(one.requirement.params)}
        keys |= {part.name for part in fields(one)}
    assert {"degree", "degrees", "working_state", "verdict", "bound_low", "kept file"} <= keys
    assert {key: old_words(f'"{key}"') for key in keys if old_words(f'"{key}"')} == {}
