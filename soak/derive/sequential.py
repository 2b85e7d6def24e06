"""Following a sequential plan through a soak, start by start or fault by fault.

The runner asks while the soak runs and the judgement asks again of the journal: the same functions
answer both, so that an early stop can be recomputed.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from soak.derive.course import Course
from soak.derive.events.bouts import Seen, placed
from soak.derive.events.losses import losses_of
from soak.derive.seeing.holes import GIVING_WAY_S
from soak.derive.spans import common
from soak.derive.starting.starts import Start
from soak.derive.starting.tried import tried_of
from soak.frozen.references import Carried
from soak.records import Requirement
from soak.statistics.frozen import Plan, thawed
from soak.statistics.plans import HoursPlan, StartsPlan
from soak.terms import counted_by

SETTLE_S = GIVING_WAY_S + 10.0
"""Of hours only what lies so far back is decided upon: until then a loss may still turn out to be
the bench's, or be told late. Our own choice beside `GIVING_WAY_S`."""


@dataclass(frozen=True, slots=True)
class Decision:
    """How far a plan has come.

    Attributes
    ----------
    decided : str
        `accepted`, `rejected`, or `undecided`: it must go on.
    at : float
        Starts counted, or live time in s, when it was decided or so far.
    failures : int
        Failed starts or bouts of losses until then.
    after : int
        Failures that came in the stretch after it was decided.
    lacks : float
        Starts or seconds live, none of them bad, until it accepts; 0 once it is decided.
    otherwise : int
        Failures under other plans, if for them this one cannot accept any more; else 0.
    """

    decided: Literal["accepted", "rejected", "undecided"]
    at: float
    failures: int
    after: int = 0
    lacks: float = 0.0
    otherwise: int = 0


FIRST_TRY = Carried()


def follow_starts(plan: StartsPlan, failed: Sequence[bool], otherwise: int = 0) -> Decision:
    """Follow a plan for starts, given for each start whether it failed.

    Parameters
    ----------
    otherwise : int
        Failures under other plans. They count as further failed starts before the plan may accept,
        and do not make it reject: so it accepts no unit oftener than without them.
    """
    bad = 0
    for number, failure in enumerate(failed[: plan.longest], 1):
        bad += failure
        after = sum(failed[number:])
        if bad + otherwise <= _accepts(plan, number + otherwise):
            return Decision("accepted", number, bad, after)
        if bad >= plan.reject_from[number - 1]:
            return Decision("rejected", number, bad, after)
    ways = range(len(failed) + 1, plan.longest - otherwise + 1)
    accepts = (n for n in ways if _accepts(plan, n + otherwise) >= bad + otherwise)
    at = next(accepts, None)
    if at is None:
        return Decision("undecided", len(failed), bad, otherwise=otherwise)
    return Decision("undecided", len(failed), bad, lacks=at - len(failed))


def _accepts(plan: StartsPlan, number: int) -> int:
    """Return with how many failures a plan accepts after so many starts; -1: with none."""
    return plan.accept_up_to[number - 1] if number <= plan.longest else -1


def follow_hours(
    plan: HoursPlan, losses_at: Sequence[float], watched: float, otherwise: int = 0
) -> Decision:
    """Follow a plan for hours.

    Parameters
    ----------
    losses_at : sequence of float
        Live time up to each bout of losses, in the measurement unit of the plan.
    watched : float
        Live time in all.
    otherwise : int
        Bouts under other plans, as in `follow_starts`.
    """
    accept_at = [*plan.accept_at[otherwise:], *[math.inf] * otherwise]
    for number, at in enumerate([*losses_at, math.inf]):
        if number == len(accept_at):
            return Decision("rejected", losses_at[number - 1], number, len(losses_at) - number)
        if min(at, watched) >= accept_at[number]:
            return Decision("accepted", accept_at[number], number, len(losses_at) - number)
        if at <= plan.reject_at[number]:
            return Decision("rejected", at, number + 1, len(losses_at) - number - 1)
    failures = len(losses_at)
    if math.isinf(accept_at[failures]):
        return Decision("undecided", watched, failures, otherwise=otherwise)
    return Decision("undecided", watched, failures, lacks=accept_at[failures] - watched)


def plan_of(requirement: Requirement) -> Plan:
    """Return the plan that a requirement carries."""
    return thawed(counted_by(requirement).plan or {})


def has_plan(requirement: Requirement, course: Course) -> bool:
    """Tell whether a soak was begun under this plan: one chosen afterwards is none."""
    return any(
        own.id == requirement.id and counted_by(own).plan == counted_by(requirement).plan
        for own in course.header.requirements
    )


def starts_counted(requirement: Requirement, course: Course) -> list[tuple[Start, bool]]:
    """Return the starts that a plan counts, each with whether it failed."""
    return tried_of(requirement, course)


def gap_of(requirement: Requirement) -> float:
    """Return the gap in s that parts two bouts for a plan; 0: an older one counts each loss."""
    return float((counted_by(requirement).plan or {}).get("gap_s") or 0.0)


def hours_counted(requirement: Requirement, course: Course, until_s: float = math.inf) -> Seen:
    """Return the bouts of losses up to a soak time, in live time.

    The gap that parts them was fixed with the plan, so that a later fault decides nothing anew.
    """
    losses = losses_of(requirement, course)
    here = [(-math.inf, until_s)]
    begun = [(episode.from_s, episode.to_s) for episode in losses.long if episode.from_s <= until_s]
    return placed([(common(losses.watched, here), begun)]).parted_by(gap_of(requirement))


def decide(
    requirement: Requirement,
    course: Course,
    until_s: float = math.inf,
    before: Carried = FIRST_TRY,
) -> Decision:
    """Say how far the plan of a requirement has come in one soak.

    Parameters
    ----------
    until_s : float
        Hours count up to this soak time only, s.
    before : Carried
        What earlier tries bring along.
    """
    plan = plan_of(requirement)
    if isinstance(plan, StartsPlan):
        failed = [*before.failed, *(bad for _, bad in starts_counted(requirement, course))]
        return follow_starts(plan, failed, before.otherwise)
    seen = hours_counted(requirement, course, until_s)
    lost = [*before.losses_at, *(before.watched_s + at for at in seen.times_s)]
    return follow_hours(plan, lost, before.watched_s + seen.watched_s, before.otherwise)


def frozen_carried(
    requirement: Requirement, course: Course, earlier: Sequence[Course] = ()
) -> Carried:
    """Return what earlier tries brought along into a soak, as its header froze it.

    Parameters
    ----------
    earlier : sequence of Course
        Earlier soaks, for a header that froze nothing.
    """
    kept = (course.header.references.carried or {}).get(requirement.id)
    return carried(requirement, earlier) if kept is None else kept


def carried(requirement: Requirement, earlier: Sequence[Course]) -> Carried:
    """Return what the tries of earlier soaks bring along into a plan, in order of time.

    After an acceptance a plan begins anew; what failed in that soak after it goes along.
    """
    plan = plan_of(requirement)
    carried = FIRST_TRY
    for course in earlier:
        for own in _same_count(requirement, course):
            under = counted_by(own).plan == counted_by(requirement).plan
            carried = (
                _added(plan, own, course, carried) if under else _as_other(own, course, carried)
            )
    return carried


def _same_count(requirement: Requirement, course: Course) -> Iterator[Requirement]:
    """Yield a soak's own demands that a plan decides upon by the same count."""
    counts = type(plan_of(requirement)), requirement.quantity, counted_by(requirement).kinds
    for own in course.header.requirements:
        terms = counted_by(own)
        if terms.plan is not None:
            others = type(plan_of(own)), own.quantity, terms.kinds
            if others == counts:
                yield own


def _added(plan: Plan, own: Requirement, course: Course, before: Carried) -> Carried:
    decided = decide(own, course, before=before)
    if decided.decided == "accepted":
        return replace(FIRST_TRY, otherwise=decided.after)
    if isinstance(plan, StartsPlan):
        failed = (bad for _, bad in starts_counted(own, course))
        return replace(before, failed=(*before.failed, *failed))
    seen = hours_counted(own, course)
    lost = (before.watched_s + at for at in seen.times_s)
    watched_s = before.watched_s + seen.watched_s
    return replace(before, losses_at=(*before.losses_at, *lost), watched_s=watched_s)


def _as_other(own: Requirement, course: Course, before: Carried) -> Carried:
    if isinstance(plan_of(own), StartsPlan):
        number = sum(bad for _, bad in starts_counted(own, course))
    else:
        number = len(hours_counted(own, course).times_s)
    return replace(before, otherwise=before.otherwise + number)
