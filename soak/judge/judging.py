"""Judging one requirement over the soaks of a job."""

import functools
import importlib
import pkgutil
from collections.abc import Mapping, Sequence

import soak.rules
from soak.derive.course import Course, course_of
from soak.evidence import Evidence
from soak.instruments import none_of
from soak.judge.unbounded import unbounded
from soak.records import Requirement
from soak.rules.core.finding import not_shown, not_tested
from soak.rules.core.rule import REGISTERED, RULES, Rule
from soak.rules.core.verdict import Finding


def all_rules() -> Mapping[str, Rule]:
    """Return the judging rules by name."""
    _load_rules()
    return dict(REGISTERED)


@functools.cache
def _load_rules() -> None:
    """Load each file of rules once: looking for them takes longer than most judgements."""
    for module in pkgutil.iter_modules(soak.rules.__path__):
        importlib.import_module(f"soak.rules.{module.name}")


def judge_requirement(requirement: Requirement, soaks: Sequence[Evidence]) -> Finding:
    """Judge one requirement over all soaks that hold its stretch and check.

    Parameters
    ----------
    soaks : sequence of Evidence
        Soaks of one job in order of time.
    """
    courses = [course_of(soak) for soak in soaks]
    judging = all_rules().get(requirement.rule)
    if judging is None:
        why = f"the rules {RULES} know no rule called {requirement.rule!r}; update soak"
        return not_shown(requirement, why)
    wired = [course for course in courses if not missing(requirement, course)]
    if not wired:
        lacking = missing(requirement, courses[-1]) if courses else "there is no soak"
        return not_tested(requirement, lacking)
    holding = [course for course in wired if _holds(requirement, course)]
    if not holding:
        return not_shown(requirement, "no soak of this job gathers evidence for it")
    return unbounded(judging(requirement, holding), holding)


def missing(requirement: Requirement, course: Course) -> str:
    """Say which instrument the requirement lacks in a soak; empty if none."""
    lacking = requirement.needs - course.roles
    if lacking:
        return f"{none_of(lacking)} was wired"
    if requirement.params.get("ambient") == "":
        return "no probe at ambient was wired"
    wanted = [requirement.quantity, str(requirement.params.get("ambient") or "")]
    for quantity in wanted:
        kind, _, name = quantity.partition(".")
        if kind == "probe" and name not in course.header.fixture.get("probe", {}):
            return f"no probe called {name} was wired"
    return ""


def _holds(requirement: Requirement, course: Course) -> bool:
    if any(own.id == requirement.id for own in course.header.requirements):
        return True
    return any(
        requirement.stretch in ("", entry.get("name"))
        and (not requirement.check or requirement.check in entry.get("checks", {}))
        for entry in course.header.script.get("stretches", ())
    )
