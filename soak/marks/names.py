"""Names that stand in marks and states: sources that only count, questions with a meaning."""

from collections.abc import Mapping

COUNTED = "learned"
"""The state of a source that only counts; what it counted stands in the detail."""

LINES = ".lines"
"""Ends the name of the source that counts what a probe said and nobody could read."""

COUNTS: Mapping[str, str] = {
    "capture.stream": "what came of a capture: pictures, lost, repeated, damaged, period_s",
    "probe.NAME.lines": "what a probe said and nobody could read: unread, last (how it came)",
}
"""Sources that only count, and the keys of their detail; each begins at 0 when it is opened."""


START_BY_EYE = "start by eye"
"""In the id of a question whether the picture came after a start."""

SWITCH_ON = "power on"
"""The id of the question that has the operator switch on a unit that no switch is wired to."""


def start_called(kind: str, number: int, check: str) -> str:
    """Return the name of a start in words; one after a short break of the supply says so."""
    after_break = kind == "quick" and check == "supply_margin"
    return f"start after short break {number}" if after_break else f"{kind} start {number}"
