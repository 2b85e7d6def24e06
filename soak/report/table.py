"""The findings as CSV, harmless in a spreadsheet.

References
----------
RFC 4180 (comma-separated values). Spreadsheets run a cell that begins with `=`, `+`, `-`, `@`, a
tab or a return as a formula: published advice against CSV injection is to set an apostrophe before.
"""

import csv
import io

from soak.report.model import Report

COLUMNS = (
    "outcome", "demand", "found", "limit", "margin", "value", "limit value", "margin value",
    "low", "high", "confidence", "unit", "part of the script", "check", "id",
)  # fmt: skip
_RUNS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def table(report: Report) -> str:
    """Return a line a finding, then a line for each function that was not tested."""
    made = io.StringIO()
    lines = csv.writer(made, lineterminator="\r\n")
    lines.writerow(COLUMNS)
    for one in report.tested:
        numbers = (one.value, one.limit_value, one.margin_value, one.low, one.high, one.confidence)
        texts = (one.outcome, one.text, one.found, one.limit, one.margin)
        rest = (one.unit, one.stretch, one.check, one.id)
        lines.writerow([*map(harmless, texts), *numbers, *map(harmless, rest)])
    for missing in report.not_tested:
        said = ("not tested", missing.what, missing.why)
        lines.writerow([*map(harmless, said), *[""] * (len(COLUMNS) - len(said))])
    return made.getvalue()


def harmless(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula."""
    return f"'{text}" if text.startswith(_RUNS) else text
