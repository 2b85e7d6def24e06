"""The one gate every stored record passes before the program reads it.

While a round of changes renames keys or kinds of records, the stored journals stay as they were
recorded and `converted` tells the program's new words for them. It goes at the end of the round:
the journals are then written anew in the new form and this file is the identity again.
"""

from typing import Any

Plain = dict[str, Any]
DEGREES = ("short break", "supply trial")
"""Marks whose `outcome` is called a `degree` now."""


def converted(kind: str, record: Plain) -> tuple[str, Plain]:
    """Return kind and content of a stored record as today's program reads them."""
    if kind == "attachment":
        kind = "kept file"
    if kind == "header":
        return kind, _header(record)
    if kind == "script":
        return kind, {**record, "requirements": _requirements(record)}
    if kind == "mark":
        return kind, _mark(record)
    return kind, record


def _header(record: Plain) -> Plain:
    return {
        **record,
        "model_sheet": {**NEVER_LEFT_OUT, **record["model_sheet"]},
        "format": 2,
        "terms": record.get("terms") or _terms(record["requirements"]),
        "requirements": _requirements(record),
        "fixture": {
            role: _renamed(one, "agent", "stand_in") for role, one in record["fixture"].items()
        },
    }


NEVER_LEFT_OUT = {"holds_data": False}
"""What made-up headers lack and the program's own always said: a key left out is now unsaid."""

LOSSES, STARTS = ("no dropout", "hours by plan"), ("starts", "starts by plan")
"""Demands from which was read what the header itself says now: what counts as lost, and how long a
start may take."""


def _terms(requirements: list[Plain]) -> Plain:
    lost = [r for r in requirements if r["rule"] in LOSSES and r["quantity"] == "capture"]
    starts = [r for r in requirements if r["rule"] in STARTS]
    told = [*[r["params"] for r in starts[:1]], *[r["params"] for r in lost[:1]]]
    keys = ("bad", "at_least_s", "episode_gap_s", "usual_start_s", "start_limit_s")
    return {key: one[key] for one in told for key in keys if one.get(key) is not None}


NEVER_MEANT = {"port droop": ("low_v", "high_v", "current_a")}
"""Parameters that made-up requirements carry and no rule ever read; unknown ones are refused."""


NEWLY_SAID = {"supply margin": {"hold_s": 10.0}}
"""Parameters that a rule needs for its words since its demand is made from them."""


def _requirements(record: Plain) -> list[Plain]:
    return [
        {**one, "params": _params(one)} if {"rule", "params"} <= one.keys() else one
        for one in record.get("requirements", ())
    ]


def _params(requirement: Plain) -> Plain:
    idle = NEVER_MEANT.get(requirement["rule"], ())
    params = _renamed(requirement["params"], "phase", "working_state")
    kept = {key: value for key, value in params.items() if key not in idle}
    if "movements" in params and "force" in kept:
        kept |= _force(kept.pop("force"))
    return {**NEWLY_SAID.get(requirement["rule"], {}), **kept}


def _force(told: str) -> Plain:
    """Return what moves a plug, and how hard, from what was one text."""
    by, _, force = told.partition(", ")
    stated = force.startswith("about ")
    force_n = {"force_n": float(force.split()[1])} if stated else {}
    return {"moved_by": by, **force_n}


def _mark(record: Plain) -> Plain:
    if record["what"] == "phase":
        detail = _renamed(record["detail"], "phase", "working_state")
        return {**record, "what": "working state", "detail": detail}
    if record["what"] in DEGREES:
        return {**record, "detail": _renamed(record["detail"], "outcome", "degree")}
    return record


def _renamed(data: Any, old: str, new: str) -> Any:
    if not isinstance(data, dict):
        return data
    return {new if key == old else key: value for key, value in data.items()}
