"""The pages in docs: their words, links and figures are the program's own."""

import re
from pathlib import Path

import pytest

from soak.marks import MARKS
from soak.states import UNSEEN
from soak.statistics.bounds import rate_at_most, share_at_most

HOUSE = Path(__file__).parents[2]
DOCS = HOUSE / "docs"

LINK = re.compile(r"\]\((?!https?:)([^)#\s]+)")
SHOWS = "explanation/what-a-soak-shows.md"


def page(name):
    return (DOCS / name).read_text(encoding="utf-8")


def table(name, head):
    """Return the numbers of each row of the table whose head begins so."""
    lines = page(name).splitlines()
    at = next(number for number, line in enumerate(lines) if line.startswith(f"| {head}"))
    rows = []
    for line in lines[at + 2 :]:
        if not line.startswith("|"):
            return rows
        rows.append([float(number) for number in re.findall(r"\d+(?:\.\d+)?", line)])
    return rows


def test_every_mark_and_state_is_explained_in_the_glossary():
    """Whoever meets a word in a journal finds it in the glossary."""
    glossary = page("glossary.md")
    states = ["picture", "black", "no signal", "frozen", "stalled", "other size", "seen", "gone"]
    words = [*MARKS, *states, *sorted(UNSEEN)]
    assert [word for word in words if f"`{word}`" not in glossary] == []


def test_every_file_of_test_data_and_every_picture_names_source_and_licence():
    """`tests/data/SOURCES.md` lists what is there and nothing else, no cell left empty."""
    data, listed = HOUSE / "tests" / "data", {}
    for line in (data / "SOURCES.md").read_text(encoding="utf-8").splitlines():
        if row := re.match(r"\| `(.+?)` \| (.+) \| (.+) \|$", line):
            listed[row[1]] = (row[2].strip(), row[3].strip())
    files = [file.relative_to(data).as_posix() for file in data.rglob("*") if file.is_file()]
    pictures = [file.name for file in (DOCS / "pictures").iterdir()]
    assert sorted(listed) == sorted({*files, *pictures} - {"SOURCES.md"})
    assert all(source and licence for source, licence in listed.values())


@pytest.mark.parametrize("path", sorted(DOCS.rglob("*.md")), ids=lambda path: path.name)
def test_every_link_between_pages_leads_somewhere(path):
    """No reader is sent to a page that is not there."""
    text = path.read_text(encoding="utf-8")
    assert [link for link in LINK.findall(text) if not (path.parent / link).exists()] == []


def test_the_shares_that_good_starts_show_are_computed_right():
    """The page's table agrees with the exact one-sided bound that findings use, to its digits."""
    rows = table(SHOWS, "good starts")
    assert [int(row[0]) for row in rows] == [3, 20, 60, 120, 300]
    for starts, percent, *_ in rows:
        exact = share_at_most(0, int(starts), 0.95)
        assert percent == pytest.approx(100 * exact, rel=5e-3)


def test_the_chances_of_slipping_through_are_computed_right():
    """The page's table agrees with the chance of n good starts in a row, to its digits."""
    rows = table(SHOWS, "fails one start in")
    assert len(rows) == 4
    for one_in, *percents in rows:
        for starts, percent in zip((3, 10, 20, 60), percents, strict=True):
            assert percent == pytest.approx(100 * (1 - 1 / one_in) ** starts, rel=5e-3, abs=5e-4)


def test_the_rates_that_quiet_hours_show_are_computed_right():
    """The page's table agrees with the bound without failures that findings use, to its digits."""
    rows = table(SHOWS, "quiet hours")
    assert len(rows) == 4
    for hours, mean_h, *_ in rows:
        assert mean_h == pytest.approx(1 / rate_at_most(0, hours, 0.95), rel=5e-3)


def test_the_hours_that_show_a_fault_gone_are_computed_right():
    """The page's table solves (T0 / (T0 + T1))^n = 5 % for T1, to its digits."""
    rows = table(SHOWS, "bouts before the repair")
    assert len(rows) == 4
    for count, before_h, after_h in rows:
        assert (before_h / (before_h + after_h)) ** count == pytest.approx(0.05, rel=0.05)
