"""The table of findings: a spreadsheet reads it, and runs nothing in it."""

import csv
import io

import pytest
from made_up_report import HOSTILE, poisoned, sheet_of

from soak.report.output.files import COLUMNS, table
from soak.visible import harmless, visible


def rows(text: str) -> list[list[str]]:
    """Read CSV as RFC 4180 has it."""
    return list(csv.reader(io.StringIO(text), strict=True))


def test_every_finding_and_every_untested_function_has_a_row():
    """One row each, all of one width, numbers as numbers."""
    said = sheet_of().report
    head, *found = rows(table(said))
    assert tuple(head) == COLUMNS
    assert {len(row) for row in found} == {len(COLUMNS)}
    assert len(found) == len(said.tested) + len(said.not_tested)
    case = next(row for row in found if row[COLUMNS.index("check")] == "spots")
    assert float(case[COLUMNS.index("value")]) == 54.8
    assert float(case[COLUMNS.index("limit_value")]) == 70.0


# Signs after which a spreadsheet takes a cell for a formula: OWASP's page "CSV Injection".
@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "\t", "\r"])
def test_no_text_can_be_a_formula(sign):
    """What begins like a formula gets an apostrophe before it, other text stays as it is."""
    assert harmless(f"{sign}1+1") == f"'{visible(sign)}1+1"
    assert harmless(f"a{sign}1") == f"a{visible(sign)}1"


@pytest.mark.parametrize("words", HOSTILE, ids=lambda words: ascii(words[:12]))
def test_no_cell_of_hostile_text_is_a_formula(words):
    """In a table in which every text is hostile no cell begins like a formula but a number."""
    for row in rows(table(poisoned(words).report)):
        for cell in row:
            if cell[:1] in ("=", "+", "-", "@", "\t", "\r"):
                float(cell)  # a negative number is one, and nothing else
