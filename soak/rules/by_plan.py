"""Whether starts, or hours, pass a sequential plan that was fixed before the first of them.

What is stated is what belongs to the plan: its true risks, and a bound over all ways in which it
may end. The bounds of a test of fixed length do not hold where failures decide its length.
"""

from collections.abc import Sequence
from typing import Any

from soak.derive.course import Course
from soak.derive.coverage import BY_PLAN, coverage
from soak.derive.early import early_of
from soak.derive.faults import UnitFault, failed_starts, terms_of
from soak.derive.losses import losses_of
from soak.derive.sequential import (
    BY_HOURS,
    BY_STARTS,
    Decision,
    decide,
    has_plan,
    plan_of,
    starts_counted,
)
from soak.derive.strata import in_words, strata
from soak.derive.tried import limit_s_of
from soak.quantities import show_duration
from soak.records import Requirement
from soak.rules.core.finding import Value, conclude, counted, not_shown, point_at
from soak.rules.core.rule import rule
from soak.rules.core.verdict import Finding, Pointer, Verdict
from soak.statistics.plan_bounds import highest_share, shortest_mean
from soak.statistics.plans import HoursPlan, Outlook, StartsPlan

_METHOD = (
    "Truncated sequential plan fixed in the journal's header before the first start (Wald 1947; "
    "IEC 61123, IEC 61124); its true risks by dynamic programming; bound at acceptance over all "
    "ways in which the plan may end ({source})"
)
_STARTS = _METHOD.format(source="Jennison & Turnbull 1983")
_HOURS = _METHOD.format(source="Bryant & Schmee 1979")


@rule(BY_STARTS)
def starts_by_plan(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that the starts of the newest soak are accepted by the plan, and none rejected."""
    held = [course for course in soaks if has_plan(requirement, course)]
    plan = plan_of(requirement)
    if not held or not isinstance(plan, StartsPlan):
        return not_shown(requirement, _CHOSEN_LATE)
    terms, newest = requirement.params["plan"], held[-1]
    confidence = requirement.confidence or 0.95
    told = [decide(requirement, course) for course in held]
    last = told[-1]
    groups = strata(starts_counted(requirement, newest)[: round(last.at)], confidence)
    alike = all(group.alike for group in groups)
    high = None
    if last.decided == "accepted" and alike:
        high = highest_share(plan, last.failures, confidence)
    at_good, at_bad = plan.outlook(terms["good"]), plan.outlook(terms["bad"])
    good, bad = (100 * terms[key] for key in ("good", "bad"))
    words = (
        f"{round(last.at) - last.failures} of {round(last.at)} starts worked. {_SAYS[last.decided]}"
        f" By it a unit that fails {good:.3g} % of its starts is turned away in "
        f"{_percent(1 - at_good.accepted)} of cases, one that fails {bad:.3g} % is accepted in "
        f"{_percent(at_bad.accepted)}."
    )
    if high is not None:
        words += (
            f" That shows fewer than {100 * high:.3g} % of such starts fail ({confidence:.0%} "
            "confidence, over all ways in which the plan may end)."
        )
    detail = {
        "starts": round(last.at),
        "failed": last.failures,
        "confidence": confidence,
        "strata": [{**group.as_json(), "bound_low": None, "bound_high": None} for group in groups],
        "plan": _told(last, plan.longest, at_good, at_bad),
    }
    pointers = [point for course in held for point in _failed(requirement, course)]
    found = Value(last.failures, bound_high=high, method=_STARTS)
    because = " ".join([words, *in_words(groups)])
    return _concluded(requirement, held, told, because, found, pointers, detail, "start")


@rule(BY_HOURS)
def hours_by_plan(requirement: Requirement, soaks: Sequence[Course]) -> Finding:
    """Judge that the hours of the newest soak are accepted by the plan, and none rejected."""
    held = [course for course in soaks if has_plan(requirement, course)]
    plan = plan_of(requirement)
    if not held or not isinstance(plan, HoursPlan):
        return not_shown(requirement, _CHOSEN_LATE)
    terms, newest = requirement.params["plan"], held[-1]
    told = [decide(requirement, course) for course in held]
    last, high, confidence = told[-1], None, requirement.confidence or 0.95
    if last.decided == "accepted":
        high = 3600 / shortest_mean(plan, last.failures, confidence)
    at_good, at_bad = plan.outlook(terms["good"]), plan.outlook(terms["bad"])
    losses = losses_of(requirement, newest)
    early = early_of([losses.watched], [[one.from_s for one in losses.long]])
    late = len(losses.long) - early
    words = (
        f"{counted(last.failures, 'dropout')} in {show_duration(last.at)} watched. "
        f"{_SAYS[last.decided]} By it a unit with one in {show_duration(terms['good'])} is turned "
        f"away in {_percent(1 - at_good.accepted)} of cases, one with one in "
        f"{show_duration(terms['bad'])} is accepted in {_percent(at_bad.accepted)}."
    )
    if high is not None:
        words += (
            f" That shows less than one in {show_duration(3600 / high)} on the whole "
            f"({confidence:.0%} confidence, over all ways in which the plan may end)."
        )
    if losses.long:
        words += f" Early half {early}, late half {late}."
    detail = {
        "count": last.failures,
        "hours": round(last.at / 3600, 6),
        "early": early,
        "late": late,
        "plan": _told(last, plan.longest, at_good, at_bad),
    }
    pointers = [point for course in held for point in _lost(requirement, course)]
    found = Value(last.failures, bound_high=high, method=_HOURS)
    because = words[0].upper() + words[1:]
    return _concluded(requirement, held, told, because, found, pointers, detail, "dropout")


_CHOSEN_LATE = "no soak was begun under this plan; a plan counts only if it was fixed before"
_SAYS = {
    "accepted": "The plan accepts here.",
    "rejected": "The plan rejects here.",
    "undecided": "The plan has not decided.",
}


def _concluded(
    requirement: Requirement,
    held: Sequence[Course],
    told: Sequence[Decision],
    because: str,
    found: Value,
    pointers: Sequence[Pointer],
    detail: dict[str, Any],
    word: str,
) -> Finding:
    for course, one in zip(held, told, strict=True):
        if one.decided == "rejected":
            where = "" if course is held[-1] else f" Rejected in soak {course.header.soak_id}."
            return conclude(requirement, Verdict.NOT_MET, because + where, found, pointers, detail)
    why = _why_not(requirement, held[-1], told[-1], word)
    if why:
        plain = because.rstrip(".")
        return not_shown(requirement, f"{why}. {plain}", found, pointers, detail)
    return conclude(requirement, Verdict.MET, because, found, pointers, detail)


def _why_not(requirement: Requirement, newest: Course, last: Decision, word: str) -> str:
    """Say why an acceptance is not shown; empty if it is."""
    if last.decided == "undecided":
        ended = [
            mark.detail.get("because")
            for mark in newest.marks("stretch ends")
            if mark.stretch == requirement.stretch
        ]
        lacks = _lacking(last, word)
        if ended and ended[-1] in BY_PLAN:
            return f"it was stopped early against the plan, which goes on from here: {lacks}"
        return f"the plan has not decided: {lacks}"
    if last.after:
        return f"after the plan had accepted came {counted(last.after, 'failure')} more"
    if word == "start":
        return ""
    terms = terms_of(requirement, newest.header)
    return coverage(newest, requirement, newest.unseen("capture", terms.bad)).why


def _percent(share: float) -> str:
    return f"{100 * share:.1f} %"


def _lacking(last: Decision, word: str) -> str:
    if word == "start":
        return f"{counted(round(last.lacks), 'start')} more, none failed, would do"
    return f"{show_duration(last.lacks)} more without a dropout would do"


def _told(last: Decision, longest: float, at_good: Outlook, at_bad: Outlook) -> dict[str, Any]:
    return {
        "decided": last.decided,
        "lacks": last.lacks,
        "longest": longest,
        "good_rejected": round(1 - at_good.accepted, 6),
        "bad_accepted": round(at_bad.accepted, 6),
        "usual_good": round(at_good.expected, 3),
    }


def _failed(requirement: Requirement, course: Course) -> Sequence[Pointer]:
    when = {start.t_on for start, bad in starts_counted(requirement, course) if bad}
    faults = failed_starts(course, limit_s_of(requirement, course))
    return point_at(course, [one for one in faults if one.from_s in when])


def _lost(requirement: Requirement, course: Course) -> Sequence[Pointer]:
    found = [
        UnitFault(
            one.from_s,
            one.to_s,
            one.kind,
            f"{one.kind} ({one.dropouts[0].state}, {show_duration(one.longest_s)})",
            "capture",
        )
        for one in losses_of(requirement, course).long
    ]
    return point_at(course, found)
