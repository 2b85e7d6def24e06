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
    "verdict", "demand", "found", "limit", "margin", "value", "limit_value", "margin_value",
    "bound_low", "bound_high", "confidence", "unit", "part_of_script", "check", "id",
)  # fmt: skip
_RUNS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def table(report: Report) -> str:
    """Return a line a finding, then a line for each function that was not tested."""
    made = io.StringIO()
    lines = csv.writer(made, lineterminator="\r\n")
    lines.writerow(COLUMNS)
    for one in report.tested:
        bounds = (one.bound_low, one.bound_high, one.confidence)
        numbers = (one.value, one.limit_value, one.margin_value, *bounds)
        texts = (one.verdict, *map(str, (one.text, one.found, one.limit, one.margin)))
        rest = (one.unit, str(one.stretch), one.check, one.id)
        lines.writerow([*map(harmless, texts), *numbers, *map(harmless, rest)])
    for missing in report.not_tested:
        said = ("not tested", str(missing.what), str(missing.why))
        lines.writerow([*map(harmless, said), *[""] * (len(COLUMNS) - len(said))])
    return made.getvalue()


def harmless(text: str) -> str:
    """Return a text that no spreadsheet takes for a formula."""
    return f"'{text}" if text.startswith(_RUNS) else text
