"""Judging one requirement over the soaks of a job."""

import functools
import importlib
import pkgutil
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace

import soak.rules
from soak.derive.course import Course, course_of
from soak.evidence import Evidence
from soak.instruments import none_of
from soak.judge.believed import never_proved, no_instrument
from soak.records import Json, Requirement
from soak.rules.core.finding import not_shown, not_tested
from soak.rules.core.lacks import Lack
from soak.rules.core.reads import ByPlan, Side
from soak.rules.core.rule import RULES, AnyRule, Rule, Weight, no_probe
from soak.rules.core.verdict import Finding, Verdict
from soak.terms import TermsError, Wrong
from soak.words import Message, joined, just, msg

_DOUBTED: Json = {"doubted": True}
"""Detail of what rests on no instrument: running on would show no more."""


@functools.cache
def all_rules() -> Mapping[str, AnyRule]:
    """Return the judging rules by name, found by a scan of `soak.rules`.

    Raises
    ------
    ValueError
        If two rules have one name.
    """
    rules: dict[str, AnyRule] = {}
    for module in pkgutil.iter_modules(soak.rules.__path__):
        for thing in vars(importlib.import_module(f"soak.rules.{module.name}")).values():
            if isinstance(thing, Rule) and rules.setdefault(thing.name, thing) is not thing:
                raise ValueError(f"there are two rules called {thing.name!r}")
    return rules


def rule_of(requirement: Requirement) -> AnyRule | None:
    """Return the rule that a requirement is judged by; None if this version knows none."""
    return all_rules().get(requirement.rule)


def unreadable(requirement: Requirement) -> TermsError | None:
    """Return what its rule cannot read of a requirement; None if it reads all."""
    rule = rule_of(requirement)
    try:
        if rule is not None:
            rule.terms_of(requirement)
    except TermsError as fault:
        return fault
    return None


def lack_of(finding: Finding, lasts_s: float | None) -> Lack | None:
    """Return what running on would add to a finding that was not shown; None: nothing.

    Parameters
    ----------
    lasts_s : float or None
        Length of the requirement's stretch, s.
    """
    rule = rule_of(finding.requirement)
    if rule is None or finding.detail == _DOUBTED:
        return None
    try:
        return rule.lacks(finding, rule.terms_of(finding.requirement), lasts_s)
    except TermsError:
        return None


def level_side(requirement: Requirement) -> Side | None:
    """Return the good side of a limit that is a level of the quantity itself; None if it is not."""
    rule = rule_of(requirement)
    return rule.reads.side if rule is not None and rule.reads.level else None


def shortest_s(requirement: Requirement) -> float:
    """Return how long a soak must be at least to meet a requirement, s; 0 if it does not say."""
    rule = rule_of(requirement)
    if rule is None or rule.shortest_s is None:
        return 0.0
    with suppress(TermsError):
        return rule.shortest_s(requirement, rule.terms_of(requirement))
    return 0.0


def weight_of(finding: Finding) -> Weight:
    """Return how a finding counts in the reason of a grade."""
    rule = rule_of(finding.requirement)
    return rule.weight if rule is not None else Weight.PLAIN


def demanded(requirement: Requirement) -> Message:
    """Say what a requirement demands; what no rule of this version can say, as it was frozen."""
    rule = rule_of(requirement)
    if rule is not None:
        with suppress(TermsError):
            return rule.demands(requirement, rule.terms_of(requirement))
    return just(requirement.text or requirement.id)


def judge_requirement(requirement: Requirement, soaks: Sequence[Evidence]) -> Finding:
    """Judge one requirement over all soaks that hold its stretch and check.

    Parameters
    ----------
    soaks : sequence of Evidence
        Soaks of one job in order of time.
    """
    courses = [course_of(soak) for soak in soaks]
    rule = rule_of(requirement)
    if rule is None:
        return not_shown(
            requirement,
            msg(
                "the rules {version} know no rule called '{rule}'; update soak",
                version=RULES,
                rule=requirement.rule,
            ),
        )
    wired = [course for course in courses if not missing(requirement, course)]
    if not wired:
        lacking = missing(requirement, courses[-1]) if courses else msg("there is no soak")
        return not_tested(requirement, lacking)
    holding = [course for course in wired if _holds(requirement, course)]
    if not holding:
        return not_shown(requirement, msg("no soak of this job gathers evidence for it"))
    try:
        terms = rule.terms_of(requirement)
    except TermsError as fault:
        return not_shown(requirement, _unreadable(fault))
    return _by_what_is_believed(
        requirement,
        lambda soaks: unbounded(rule.judge(requirement, terms, soaks), rule, soaks),
        holding,
    )


def _by_what_is_believed(
    need: Requirement, judged: Callable[[Sequence[Course]], Finding], holding: Sequence[Course]
) -> Finding:
    """Judge by the soaks whose instruments are some, and let only proved ones speak for a unit.

    Parameters
    ----------
    judged : callable
        Judges the demand by some of the soaks that hold it.
    """
    real = [course for course in holding if not no_instrument(need, course)]
    if not real:
        return not_shown(need, no_instrument(need, holding[-1]), detail=_DOUBTED)
    finding = judged(real)
    proved = [course for course in real if not never_proved(need, course)]
    # A fault counts, whoever saw it: a bench must not wash it off by proving nothing.
    if finding.verdict is not Verdict.MET or len(proved) == len(real):
        return finding
    if not proved:
        return not_shown(need, never_proved(need, real[-1]), detail=_DOUBTED)
    return judged(proved)


def _unreadable(fault: TermsError) -> Message:
    if fault.kind is Wrong.MISSING:
        return msg("its parameters cannot be read ({key} is missing); update soak", key=fault.key)
    if fault.kind is Wrong.UNKNOWN:
        return msg("its parameters cannot be read ({key} is unknown); update soak", key=fault.key)
    return msg(
        "its parameters cannot be read ({key} has an impossible value); update soak", key=fault.key
    )


def missing(requirement: Requirement, course: Course) -> Message:
    """Say which instrument the requirement lacks in a soak; empty if none."""
    lacking = requirement.needs - course.roles
    if lacking:
        return msg("{instruments} was wired", instruments=none_of(lacking))
    rule = rule_of(requirement)
    if rule is not None and rule.wants is not None:
        with suppress(TermsError):
            if wanting := rule.wants(rule.terms_of(requirement), course):
                return wanting
    return no_probe(requirement.quantity, course)


def _holds(requirement: Requirement, course: Course) -> bool:
    if any(own.id == requirement.id for own in course.header.requirements):
        return True
    return any(
        requirement.stretch in ("", entry.name)
        and (not requirement.check or requirement.check in entry.checks)
        for entry in course.header.script.stretches
    )


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
        entry.plan and requirement.stretch in ("", entry.name)
        for entry in course.header.script.stretches
    )
