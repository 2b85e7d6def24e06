"""What keeps a unit from being ready besides its requirements."""

from collections.abc import Sequence

from soak.derive.course import Course
from soak.rules.core.verdict import Finding, Verdict

_ENDED = {
    "stopped": "was stopped before its end",
    "bench fault": "ended with a fault of the bench; mend the bench and run on",
}


def open_points(newest: Course, findings: Sequence[Finding]) -> list[str]:
    """Return the open points as plain sentences.

    Parameters
    ----------
    newest : Course
        The newest soak: its end and its header count.
    findings : sequence of Finding
        All findings since the repair.
    """
    return [*_end_of(newest), *_repairs(newest, findings), *_data(newest)]


def _end_of(newest: Course) -> list[str]:
    soak_id = newest.header.soak_id
    if newest.seal is None:
        return [f"Soak {soak_id} is not sealed: it still runs or was cut off; resume it."]
    how = _ENDED.get(newest.seal.ended)
    return [f"Soak {soak_id} {how}."] if how else []


def _repairs(newest: Course, findings: Sequence[Finding]) -> list[str]:
    met = [finding for finding in findings if finding.verdict == Verdict.MET]
    shown = {function for finding in met for function in finding.requirement.shows_repair}
    points = []
    for repair in newest.header.unit.get("repairs") or ():
        what, function = repair.get("what") or "unnamed", repair.get("function")
        if not function:
            points.append(f"The repair ({what}) names no function, so nothing can show it.")
        elif function not in shown:
            points.append(f"The repair ({what}) was not shown: no met requirement on {function}.")
    return points


def _data(newest: Course) -> list[str]:
    holds_data = newest.header.model_sheet.get("holds_data")
    if holds_data and newest.header.unit.get("wiped") is None:
        return ["This model holds data, and no wiping was recorded before the soak."]
    return []
