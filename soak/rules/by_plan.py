"""Whether starts, or hours, pass a sequential plan that was fixed before the first of them.

What is stated is what belongs to the plan: its true risks, and a bound over all ways in which it
may end. The bounds of a test of fixed length do not hold where failures decide its length.
"""

from collections.abc import Sequence
from dataclasses import replace

from soak.derive.course import Course
from soak.derive.events.faults import UnitFault, failed_starts, terms_of
from soak.derive.events.losses import losses_of
from soak.derive.jobs_before import FailureKind
from soak.derive.said import in_short
from soak.derive.seeing.coverage import BY_PLAN, coverage, dead_in
from soak.derive.sequential import (
    Decision,
    decide,
    frozen_carried,
    has_plan,
    plan_of,
    starts_counted,
)
from soak.derive.starting.early import early_of
from soak.derive.starting.tried import limit_of, limits_in_words
from soak.derive.strata import halves_in_words, in_words, strata
from soak.frozen.references import Carried
from soak.frozen.shape import as_json, kept, read_as
from soak.marks import StretchEnds, fact_as
from soak.records import Json, Requirement
from soak.rules.core import lacks
from soak.rules.core.breaks import DROPOUTS
from soak.rules.core.finding import Value, conclude, not_shown, point_at
from soak.rules.core.lacks import Lack
from soak.rules.core.plan_words import (
    PlanTerms,
    dropouts,
    earlier_hours,
    earlier_starts,
    hour_bound,
    hour_risks,
    parted,
    start_bound,
    start_risks,
)
from soak.rules.core.reads import STARTS, ByPlan
from soak.rules.core.rule import Bounds, Rule, Section
from soak.rules.core.verdict import Finding, Pointer, Verdict
from soak.statistics.plan_bounds import highest_share, shortest_mean
from soak.statistics.plans import HoursPlan, Outlook, StartsPlan
from soak.terms import LossTerms, StartTerms, terms
from soak.words import (
    NOTHING_SAID,
    Amount,
    Message,
    Stated,
    counted,
    joined,
    msg,
    paragraph,
    sentence,
)

_STARTS_METHOD = msg(
    "Truncated sequential plan fixed in the journal's header before the first start (Wald 1947; "
    "IEC 61123, IEC 61124); its true risks by dynamic programming; bound at acceptance over all "
    "ways in which the plan may end (Jennison & Turnbull 1983)"
)
_HOURS_METHOD = msg(
    "Truncated sequential plan fixed in the journal's header before the first start (Wald 1947; "
    "IEC 61123, IEC 61124); its true risks by dynamic programming; bound at acceptance over all "
    "ways in which the plan may end (Bryant & Schmee 1979)"
)


@terms
class StartsPlanTerms(PlanTerms):
    """A plan for starts."""

    longest: int
    accept_from: tuple[int, ...]
    reject_by: tuple[int, ...]


@terms
class HoursPlanTerms(PlanTerms):
    """A plan for hours; times in s, losses less than `gap_s` apart being one bout."""

    gap_s: float = 0.0
    accept_at_s: tuple[float, ...]
    reject_at_s: tuple[float, ...]
    shortest_s: float


@terms
class StartsByPlanTerms(StartTerms):
    """Which starts count, and the plan that decides upon them."""

    plan: StartsPlanTerms


@terms
class HoursByPlanTerms(LossTerms):
    """What counts as a loss of the picture, and the plan that decides upon losses."""

    plan: HoursPlanTerms


def _starts(need: Requirement, terms: StartsByPlanTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the starts of the newest soak are accepted by the plan, and none rejected."""
    held = [course for course in soaks if has_plan(need, course)]
    plan = plan_of(need) if held else None
    if not isinstance(plan, StartsPlan):
        return not_shown(need, _CHOSEN_LATE)
    confidence = need.confidence or 0.95
    before = [_before(need, course, soaks) for course in held]
    decisions = [
        decide(need, course, before=carried) for course, carried in zip(held, before, strict=True)
    ]
    last = decisions[-1]
    made = round(decisions[-1].at)
    tried = len(before[-1].failed)
    groups = strata(starts_counted(need, held[-1])[: max(0, made - tried)], confidence)
    high = None
    if last.decided == "accepted" and all(group.alike for group in groups):
        high = highest_share(plan, last.failures + before[-1].otherwise, confidence)
    outlooks = plan.outlook(terms.plan.good), plan.outlook(terms.plan.bad)
    worked = counted(
        made,
        "{good} of 1 start worked",
        "{good} of {count} starts worked",
        good=made - last.failures,
    )
    because = paragraph(
        sentence(joined("; ", [worked, limits_in_words(need, held)])),
        earlier_starts(before[-1]),
        _SAYS[last.decided],
        start_risks(terms.plan, *outlooks),
        start_bound(high, confidence),
        in_words(groups),
    )
    detail = {
        "starts": made,
        "failed": last.failures,
        "confidence": confidence,
        "strata": [{**group.as_json(), "bound_high": None} for group in groups],
        "plan": _told(last, plan.longest, *outlooks),
    }
    pointers = [point for course in held for point in _failed(need, course)]
    value = Value(last.failures, bound_high=high, method=_STARTS_METHOD, over=made)
    aside = halves_in_words(groups)
    good = conclude(
        need, Verdict.MET, because, found=value, pointers=pointers, detail=detail, aside=aside
    )
    more = counted(
        round(last.lacks),
        "1 start more, none failed, would do",
        "{count} starts more, none failed, would do",
    )
    return _decided(good, held, decisions, _against(need, held[-1], last, more))


def _before(need: Requirement, course: Course, soaks: Sequence[Course]) -> Carried:
    return frozen_carried(need, course, soaks[: soaks.index(course)])


def _hours(need: Requirement, terms: HoursByPlanTerms, soaks: Sequence[Course]) -> Finding:
    """Judge that the hours of the newest soak are accepted by the plan, and none rejected."""
    held = [course for course in soaks if has_plan(need, course)]
    plan = plan_of(need) if held else None
    if not isinstance(plan, HoursPlan):
        return not_shown(need, _CHOSEN_LATE)
    before = [_before(need, course, soaks) for course in held]
    decisions = [
        decide(need, course, before=carried) for course, carried in zip(held, before, strict=True)
    ]
    last = decisions[-1]
    high = None
    confidence = need.confidence or 0.95
    if last.decided == "accepted":
        high = 3600 / shortest_mean(plan, last.failures + before[-1].otherwise, confidence)
    outlooks = plan.outlook(terms.plan.good), plan.outlook(terms.plan.bad)
    losses = losses_of(need, held[-1])
    early = early_of([losses.watched], [[episode.from_s for episode in losses.long]])
    late = len(losses.long) - early
    because = paragraph(
        sentence(dropouts(last.failures, last.at)),
        parted(terms.plan.gap_s),
        earlier_hours(before[-1]),
        _SAYS[last.decided],
        hour_risks(terms.plan, *outlooks),
        hour_bound(high, confidence),
    )
    halves = msg("Early half {early}, late half {late}.", early=early, late=late)
    aside = halves if losses.long else NOTHING_SAID
    detail = {
        "count": last.failures,
        "hours": round(last.at / 3600, 6),
        "gap_s": terms.plan.gap_s,
        "early": early,
        "late": late,
        "plan": _told(last, plan.longest, *outlooks),
    }
    pointers = [point for course in held for point in _lost(need, course)]
    value = Value(last.failures, bound_high=high, method=_HOURS_METHOD, over=last.at)
    good = conclude(
        need, Verdict.MET, because, found=value, pointers=pointers, detail=detail, aside=aside
    )
    more = msg("{time} more without a dropout would do", time=Amount(last.lacks, "s"))
    unseen = held[-1].unseen("capture", terms_of(need, held[-1].header).bad)
    blind = coverage(held[-1], need, unseen).why
    return _decided(good, held, decisions, _against(need, held[-1], last, more) or blind)


_CHOSEN_LATE = msg("no soak was begun under this plan; a plan counts only if it was fixed before")
_SAYS = {
    "accepted": msg("The plan accepts here."),
    "rejected": msg("The plan rejects here."),
    "undecided": msg("The plan has not decided."),
}


def _decided(
    good: Finding, held: Sequence[Course], told: Sequence[Decision], why: Message
) -> Finding:
    """Return a finding as the plan decides: rejected in any soak, or not shown for a reason."""
    for course, decision in zip(held, told, strict=True):
        if decision.decided == "rejected":
            where = msg("Rejected in soak {soak}.", soak=course.header.soak_id)
            before = where if course is not held[-1] else None
            return replace(good, verdict=Verdict.NOT_MET, because=paragraph(good.because, before))
    if why:
        bare = not_shown(good.requirement, why)
        because = paragraph(bare.because, good.because)
        return replace(good, verdict=bare.verdict, why=why, because=because)
    return good


def _against(need: Requirement, newest: Course, last: Decision, more: Message) -> Message:
    """Say why an acceptance is not shown by the plan; empty if it is."""
    if last.otherwise:
        return counted(
            last.otherwise,
            "this plan accepts no unit with 1 failure more, which was seen under another plan",
            "this plan accepts no unit with {count} failures more, which were seen under another",
        )
    if last.decided == "undecided":
        ended = [
            fact_as(mark, StretchEnds).because
            for mark in newest.marks(StretchEnds.mark)
            if mark.stretch == need.stretch
        ]
        if ended and ended[-1] in BY_PLAN:
            return msg(
                "it was stopped early against the plan, which goes on from here: {more}", more=more
            )
        dead = dead_in(newest, need.stretch)
        return dead or msg("the plan has not decided: {more}", more=more)
    if last.after:
        return counted(
            last.after,
            "after the plan had accepted came 1 failure more",
            "after the plan had accepted came {count} failures more",
        )
    return NOTHING_SAID


@kept
class _Told:
    """What a finding's detail says of its plan: `lacks` and `longest` are starts, or s."""

    decided: str
    lacks: float
    longest: float
    good_rejected: float
    bad_accepted: float
    usual_good: float


@kept
class _Detail:
    """What is asked of a finding's detail."""

    plan: _Told | None = None


def _told(last: Decision, longest: float, at_good: Outlook, at_bad: Outlook) -> Json:
    return as_json(
        _Told(
            decided=last.decided,
            lacks=last.lacks,
            longest=longest,
            good_rejected=round(1 - at_good.accepted, 6),
            bad_accepted=round(at_bad.accepted, 6),
            usual_good=round(at_good.expected, 3),
        )
    )


def _failed(need: Requirement, course: Course) -> Sequence[Pointer]:
    when = {start.t_on for start, bad in starts_counted(need, course) if bad}
    faults = failed_starts(course, limit_of(need, course).limit_s)
    return point_at(course, [fault for fault in faults if fault.from_s in when])


def _lost(need: Requirement, course: Course) -> Sequence[Pointer]:
    faults = [
        UnitFault(
            episode.from_s, episode.to_s, episode.kind, text=in_short(episode), source="capture"
        )
        for episode in losses_of(need, course).long
    ]
    return point_at(course, faults)


def _lacks_starts(finding: Finding, terms: StartsByPlanTerms, lasts_s: float | None) -> Lack | None:
    plan = read_as(_Detail, finding.detail).plan
    if plan is None:
        return lacks.time(finding, terms, lasts_s)
    return Lack(lacks_starts=round(plan.lacks), whole_starts=round(plan.longest))


def _lacks_hours(finding: Finding, terms: HoursByPlanTerms, lasts_s: float | None) -> Lack | None:
    plan = read_as(_Detail, finding.detail).plan
    if plan is None:
        return lacks.time(finding, terms, lasts_s)
    return Lack(lacks_s=plan.lacks, whole_s=plan.longest)


def _starts_accepted(need: Requirement, terms: StartsByPlanTerms) -> Message:
    if terms.start_limit_s is None:
        return msg(
            "Every start shows a picture within the limit for its model, or as nearly as "
            "a plan of at most {number} starts accepts",
            number=terms.plan.longest,
        )
    return msg(
        "Every start shows a picture within {limit}, or as nearly as a plan of at most {number} "
        "starts accepts",
        limit=Stated(terms.start_limit_s, "s"),
        number=terms.plan.longest,
    )


def _hours_accepted(need: Requirement, terms: HoursByPlanTerms) -> Message:
    return msg(
        "The picture is lost for {shortest} or longer in no more bouts than a plan of at most "
        "{most} accepts",
        shortest=Amount(terms.at_least_s, "s"),
        most=Amount(max(terms.plan.accept_at_s, default=0.0), "s"),
    )


STARTS_BY_PLAN = Rule(
    name="starts by plan",
    terms=StartsByPlanTerms,
    judge=_starts,
    demands=_starts_accepted,
    reads=ByPlan(of=STARTS),
    lacks=_lacks_starts,
    section=Section.STARTS,
    bounds=Bounds.SHARE,
    failures=FailureKind.STARTS,
)

HOURS_BY_PLAN = Rule(
    name="hours by plan",
    terms=HoursByPlanTerms,
    judge=_hours,
    demands=_hours_accepted,
    reads=ByPlan(of=DROPOUTS),
    lacks=_lacks_hours,
    section=Section.PICTURE,
    bounds=Bounds.RATE,
    failures=FailureKind.PICTURE,
)
