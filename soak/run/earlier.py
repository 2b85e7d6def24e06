"""What earlier sessions of a soak already have, so that a resumed one goes on from there."""

from collections.abc import Mapping, Sequence
from typing import Any

from soak.checks.base import Done
from soak.derive.seeing.coverage import BY_PLAN
from soak.evidence import Evidence
from soak.marks import (
    Answered,
    CapacityTried,
    Fact,
    ShortBreak,
    StartEnded,
    StretchEnds,
    SupplyTrial,
    facts,
)
from soak.records import Json
from soak.run.script import Script, build_checks

_COUNTED_BY: Mapping[str, Sequence[type[Fact]]] = {
    "power_cycles": (StartEnded,),
    "look": (Answered,),
    "by_hand": (Answered,),
    "supply_margin": (SupplyTrial, ShortBreak),
}
"""The marks by which a check that ends by itself says that one more is done."""

_WRITTEN = "transfer.stick.written"


def earlier(evidence: Evidence, script: Script) -> Mapping[str, Mapping[str, Any]]:
    """Return `{stretch: {"finished": bool, "done": {check: Done}}}` for `plan.make_plan`."""
    header = evidence.header
    ended = {mark.stretch: ends.because for mark, ends in facts(evidence, StretchEnds)}
    stretches: dict[str, dict[str, Any]] = {}
    for stretch in script.stretches:
        checks = build_checks(script, stretch, header.fixture, header.model_sheet)
        done = {
            check.name: Done(
                _count(evidence, stretch.name, check.name),
                _note(evidence, stretch.name, check.name),
            )
            for check in checks
        }
        finished = ended.get(stretch.name) in ("done", "skipped", *BY_PLAN)
        stretches[stretch.name] = {"finished": finished, "done": done}
    return stretches


def _count(evidence: Evidence, stretch: str, check: str) -> int:
    return sum(
        mark.stretch == stretch and mark.check == check and not getattr(fact, "blind", ())
        for kind in _COUNTED_BY.get(check, ())
        for mark, fact in facts(evidence, kind)
    )


def _note(evidence: Evidence, stretch: str, check: str) -> Json:
    """Return what a check must know besides: writing wears a stick out, so its budget goes on."""
    if check != "transfer":
        return {}
    filled = any(mark.stretch == stretch for mark, _ in facts(evidence, CapacityTried))
    written = evidence.series(_WRITTEN, stretch)[1]
    return {"written_bytes": int(written.sum()), "filled": filled}
