"""The only place of the corpus that knows the judgement's inner shape: findings as plain data.

What is frozen are figures, places and verdicts. Sentences, names of methods and all else that is
made for reading is left out, so that wording may change freely.
"""

from collections.abc import Mapping, Sequence
from typing import Any

from soak.errors import UsageError
from soak.evidence import Evidence
from soak.judge.grade import judge
from soak.judge.judging import all_rules
from soak.records import Json, to_json

Plain = dict[str, Any]
DIGITS = 9
"""Significant digits of a figure; what lies behind them may differ from processor to processor."""


def rule_names() -> Sequence[str]:
    """Return the names of all judging rules."""
    return sorted(all_rules())


def judged(soaks: Sequence[Evidence], script: Json | None) -> tuple[Plain, list[Plain]]:
    """Return a job's grade and its findings; that of one that is refused says just that.

    Where the judgement crashes, the grade says by which exception; then each requirement is judged
    alone, so that it shows which one it is.
    """
    try:
        judgement = judge(soaks, script)
    except UsageError:
        return {"refused": True}, []
    except Exception as fault:  # a crash is what is frozen, until it is mended
        return {"crash": type(fault).__name__}, _one_by_one(soaks, script)
    grade = {
        "ready": judgement.ready,
        "because": judgement.because,
        "open_points": len(judgement.open_points),
    }
    return grade, [_plain(one, judgement.soaks) for one in judgement.findings]


def _one_by_one(soaks: Sequence[Evidence], script: Json | None) -> list[Plain]:
    demanded = script or {"requirements": [to_json(r) for r in soaks[-1].header.requirements]}
    findings = []
    for requirement in demanded.get("requirements", ()):
        try:
            alone = judge(soaks, {**demanded, "requirements": [requirement]})
            findings.append(_plain(alone.findings[0], alone.soaks))
        except Exception as fault:
            named = {"id": requirement["id"], "rule": requirement["rule"]}
            findings.append({**named, "crash": type(fault).__name__})
    return findings


def _plain(finding: Any, soaks: Sequence[str]) -> Plain:
    data = {
        "id": finding.requirement.id,
        "rule": finding.requirement.rule,
        "verdict": finding.verdict.value,
        "value": finding.value,
        "bound_low": finding.bound_low,
        "bound_high": finding.bound_high,
        "margin": finding.margin,
        "pointers": [
            [soaks.index(place.soak_id), round(place.from_s, 3), round(place.to_s, 3)]
            for place in finding.pointers
        ],
        "detail": finding.detail | _coverage(finding),
    }
    return {key: value for key, value in figures(data).items() if value not in (None, [], {})}


def _coverage(finding: Any) -> Plain:
    return {"coverage": [one.as_json() for one in finding.covered]} if finding.covered else {}


def figures(value: Any) -> Any:
    """Return plain data of numbers, and of the words that name an id, a rule or a verdict."""
    return {
        key: part if key in ("id", "rule", "verdict") else _numbers(part)
        for key, part in value.items()
    }


def _numbers(value: Any) -> Any:
    if isinstance(value, Mapping):
        parts = {str(key): _numbers(part) for key, part in value.items()}
        return {key: part for key, part in parts.items() if part not in (None, [], {})}
    if isinstance(value, str):
        return None
    if isinstance(value, Sequence | set | frozenset):
        parts = [_numbers(part) for part in value]
        return parts if any(part is not None for part in parts) else len(parts)
    if isinstance(value, float):
        return float(f"{value:.{DIGITS}g}") + 0.0
    return value
