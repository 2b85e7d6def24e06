"""No bound of a test of fixed length where failures decided the length."""

from collections.abc import Sequence
from dataclasses import replace

from soak.derive.course import Course
from soak.records import Requirement
from soak.rules.core.reads import ByPlan
from soak.rules.core.rule import AnyRule
from soak.rules.core.verdict import Finding
from soak.words import joined, msg

_WHY = msg("no bound is stated: a plan that looks at the failures may have ended the stretch early")


def unbounded(finding: Finding, rule: AnyRule | None, soaks: Sequence[Course]) -> Finding:
    """Return a finding without its confidence bound if a sequential plan ruled its stretch.

    A plan's own requirement keeps the bound that belongs to the plan; the edges of a guard band
    are no confidence bound and stay.
    """
    need = finding.requirement
    if rule is not None and isinstance(rule.reads, ByPlan):
        return finding
    if need.confidence is None or finding.bound_high is None:
        return finding
    if not any(_planned(need, course) for course in soaks):
        return finding
    return replace(
        finding, bound_low=None, bound_high=None, method=joined("; ", [finding.method, _WHY])
    )


def _planned(requirement: Requirement, course: Course) -> bool:
    return any(
        entry.get("plan") and requirement.stretch in ("", entry.get("name"))
        for entry in course.header.script.get("stretches", ())
    )
