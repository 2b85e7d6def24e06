"""Turns evidence into the lines that are stored; used only when journals are made."""

from collections.abc import Sequence
from typing import Any

import numpy as np
from stored import StoredSoak, dumped, read

from soak.evidence import Evidence
from soak.records import Record, kind_of, to_json

TIMES, DIGITS = 3, 6
"""Readings are kept to so many decimals of a second and so many significant digits."""

FEW = 400


def kept(evidence: Evidence, thin_s: float = 0.0, digits: int = DIGITS) -> list[str]:
    """Return the lines of a journal.

    Parameters
    ----------
    thin_s : float
        Of a probe with more than `FEW` readings at most one in so many seconds is kept.
    """
    evidence = getattr(evidence, "_evidence", evidence)  # what is behind a course
    lines = [_line(evidence.header)]
    begins = [session.begins_at_s for session in evidence.sessions()] or [0.0]
    ends = [*begins[1:], np.inf]
    states = _states(evidence)
    marks = _marks(evidence)
    for place, session in enumerate(evidence.sessions()):
        first, last = (begins[place] if place else -np.inf), ends[place]
        lines.append(_line(session))
        lines += _readings(evidence, first, last, thin_s, digits)
        lines += [_line(one) for one in states if first <= one.t_s < last]
        lines += [_line(one) for one in marks[place]]
        lines += [_line(one) for one in evidence.kept_files() if first <= one.t_s < last]
    if not evidence.sessions():
        lines += [*_readings(evidence, -np.inf, np.inf, thin_s, digits), *map(_line, states)]
    if evidence.seal:
        lines.append(_line(evidence.seal))
    return lines + _told(evidence, read(lines))


def _line(record: Record) -> str:
    return dumped({"kind": kind_of(record), **to_json(record)})


def _states(evidence: Any) -> list[Any]:
    if hasattr(evidence, "state_list"):
        return list(evidence.state_list)
    return [one for source in evidence.sources() for one in evidence.states(source)]


def _marks(evidence: Any) -> list[Sequence[Any]]:
    """Return the marks of each session."""
    if isinstance(evidence, StoredSoak):
        return list(evidence.mark_lists)
    if hasattr(evidence, "contents"):
        return [span.marks for span in evidence.contents().parts]
    return [*([] for _ in evidence.sessions()[1:]), evidence.marks()]


def _readings(evidence: Any, first: float, last: float, thin_s: float, digits: int) -> list[str]:
    names = [quantity.name for quantity in evidence.header.quantities]
    names += [name for name in getattr(evidence, "readings", {}) if name not in names]
    lines = []
    for name in names:
        t_s, values = evidence.series(name)
        here = (t_s >= first) & (t_s < last)
        t_s, values = t_s[here], values[here]
        if thin_s and name.startswith("probe.") and len(t_s) > FEW:
            _, places = np.unique(np.floor(t_s / thin_s), return_index=True)
            t_s, values = t_s[places], values[places]
        if len(t_s):
            rounded = [float(f"{value:.{digits}g}") for value in values]
            whole = {"t_s": _short(np.round(t_s, TIMES)), "value": _short(rounded)}
            lines.append(dumped({"kind": "readings", "quantity": name, **whole}))
    return lines


def _short(numbers: Any) -> list[float]:
    """Write whole numbers without a point: they are read as floats again."""
    return [int(one) if one == int(one) else float(one) for one in map(float, numbers)]


def _told(evidence: Any, again: StoredSoak) -> list[str]:
    """Return what a made-up journal says of itself and its marks do not."""
    named = {entry.name for entry in evidence.header.script.stretches}
    named |= {mark.stretch for mark in evidence.marks()} | set(getattr(evidence, "pieces", {}))
    named |= {one.stretch for one in evidence.header.requirements}
    pieces = {name: _pieces(evidence, name) for name in sorted(named - {""})}
    windows = {name: there for name, there in pieces.items() if there != _pieces(again, name)}
    end_s = round(float(evidence.ends_s), TIMES)
    told_end_s = None if abs(end_s - again.ends_s) < 0.01 else end_s
    if not windows and told_end_s is None:
        return []
    return [dumped({"kind": "told", "windows": windows, "ends_s": told_end_s})]


def _pieces(evidence: Evidence, stretch: str) -> list[list[float]]:
    return [[round(float(end), 2) for end in piece] for piece in evidence.windows(stretch)]
