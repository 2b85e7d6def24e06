"""What moving a plug showed, as a small table: episodes by movement, cold and hot."""

from collections.abc import Sequence
from dataclasses import asdict
from typing import Any

from soak.derive.course import Course, course_of
from soak.evidence import Evidence
from soak.judge.judging import judge_requirement
from soak.quantities import show_duration, show_value
from soak.records import Requirement
from soak.rules.core.verdict import Finding
from soak.rules.wiggle import RULE, Moved, movements

_WIDEST = 24


def by_movement(evidence: Evidence) -> list[str]:
    """Return the lines; none where no plug was moved."""
    course = course_of(evidence)
    lines = []
    for requirement in course.header.requirements:
        found = movements(requirement, course) if requirement.rule == RULE else []
        if found:
            lines += _table(requirement, course, found)
    return lines


def by_movement_as_data(evidence: Evidence) -> list[dict[str, Any]]:
    """Return each movement with what began in it."""
    course = course_of(evidence)
    return [
        {"port": one.params["port"], "heat": one.params["heat"], **asdict(moved)}
        for one in course.header.requirements
        if one.rule == RULE
        for moved in movements(one, course)
    ]


def _table(requirement: Requirement, course: Course, found: Sequence[Moved]) -> list[str]:
    finding = judge_requirement(requirement, [course])
    params = requirement.params
    lines = [f"port {params['port']}, {params['heat']}{_spots(finding)}; {params['force']}"]
    for name in ("rest", *params["movements"]):
        own = [one for one in found if one.movement == name]
        lengths = [to_s - from_s for one in own for from_s, to_s, _ in one.events]
        seen = show_duration(sum(one.seen_s for one in own))
        longest = f", longest {show_duration(max(lengths))}" if lengths else ""
        bar = "*" * min(_WIDEST, len(lengths))
        lines.append(f"  {name:<6} {len(lengths):>3} in {seen:<8} {bar}{longest}".rstrip())
    compared = finding.detail.get("rest_against_moving")
    if compared and any(one.events for one in found):
        lines.append(
            f"  moving against rest: chance of so quiet a rest {compared['chance']:.2g} "
            "(exact conditional test of two Poisson counts)"
        )
    lines.append(f"  not seen: breaks shorter than {finding.detail['smallest_break']}")
    return lines


def _spots(finding: Finding) -> str:
    spots = finding.detail.get("spots_degc") or {}
    told = ", ".join(f"{name} {show_value(degc, 'degC')}" for name, degc in spots.items())
    return f" ({told})" if told else ""
