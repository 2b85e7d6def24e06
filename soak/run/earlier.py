"""What earlier sessions of a soak already have, so that a resumed one goes on from there."""

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from soak.checks.base import Check, Done
from soak.derive.coverage import BY_PLAN
from soak.evidence import Evidence
from soak.records import Json
from soak.run.script import Script, build_checks
from soak.states import UNSEEN

_COUNTED_BY = {
    "power_cycles": ("start ended",),
    "look": ("answer",),
    "by_hand": ("answer",),
    "supply_margin": ("supply trial", "short break"),
}
"""The marks by which a check that ends by itself says that one more is done."""

_WRITTEN = "transfer.stick.written"


def earlier(evidence: Evidence, script: Script) -> Mapping[str, Mapping[str, Any]]:
    """Return `{stretch: {"finished": bool, "done": {check: Done}}}` for `plan.make_plan`."""
    header = evidence.header
    ended = {mark.stretch: mark.detail["because"] for mark in evidence.marks("stretch ends")}
    found: dict[str, dict[str, Any]] = {}
    for stretch in script.stretches:
        checks = build_checks(script, stretch, header.fixture, header.model_sheet)
        observed_s = _observed_s(evidence, stretch.name, checks)
        done = {
            check.name: Done(
                _count(evidence, stretch.name, check.name),
                observed_s,
                _note(evidence, stretch.name, check.name),
            )
            for check in checks
        }
        finished = ended.get(stretch.name) in ("done", "skipped", *BY_PLAN)
        found[stretch.name] = {"finished": finished, "done": done}
    return found


def _count(evidence: Evidence, stretch: str, check: str) -> int:
    return sum(
        mark.stretch == stretch and mark.check == check
        for what in _COUNTED_BY.get(check, ())
        for mark in evidence.marks(what)
    )


def _note(evidence: Evidence, stretch: str, check: str) -> Json:
    """Return what a check must know besides: writing wears a stick out, so its budget goes on."""
    if check != "transfer":
        return {}
    filled = any(mark.stretch == stretch for mark in evidence.marks("capacity"))
    written = evidence.series(_WRITTEN, stretch)[1]
    return {"written_bytes": int(written.sum()), "filled": filled}


def _observed_s(evidence: Evidence, stretch: str, checks: Sequence[Check]) -> float:
    """Return the time in s in which no source of the stretch was blind."""
    blind = [
        span
        for source in sorted({source for check in checks for source in check.sources()})
        for span in _blind_spans(evidence, source)
    ]
    total_s = 0.0
    for begin_s, end_s in evidence.windows(stretch):
        edges = sorted(
            {begin_s, end_s, *(t for span in blind for t in span if begin_s < t < end_s)}
        )
        for from_s, to_s in pairwise(edges):
            if not any(span[0] <= from_s and to_s <= span[1] for span in blind):
                total_s += to_s - from_s
    return total_s


def _blind_spans(evidence: Evidence, source: str) -> list[tuple[float, float]]:
    states = evidence.states(source)
    ends = [state.t_s for state in states[1:]] + [evidence.ends_s]
    spans = [(s.t_s, end) for s, end in zip(states, ends, strict=False) if s.state in UNSEEN]
    first_s = states[0].t_s if states else evidence.ends_s
    return [(0.0, first_s), *spans]
