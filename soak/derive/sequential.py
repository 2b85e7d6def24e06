"""Following a sequential plan through a soak, start by start or fault by fault.

The runner asks while the soak runs and the judgement asks again of the journal: the same functions
answer both, so that an early stop can be recomputed.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from soak.derive.course import Course
from soak.derive.dropouts import GIVING_WAY_S
from soak.derive.losses import losses_of
from soak.derive.spans import common, minus, total_s
from soak.derive.starts import Start
from soak.derive.tried import tried_of
from soak.records import Requirement
from soak.statistics.frozen import Plan, thawed
from soak.statistics.plans import HoursPlan, StartsPlan

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
        Starts counted, or seconds watched without a loss, when it was decided or so far.
    failures : int
        Failed starts or losses until then.
    after : int
        Failures that came in the stretch after it was decided.
    lacks : float
        Starts or seconds, none of them bad, until it accepts; 0 once it is decided.
    """

    decided: Literal["accepted", "rejected", "undecided"]
    at: float
    failures: int
    after: int = 0
    lacks: float = 0.0


def follow_starts(plan: StartsPlan, failed: Sequence[bool]) -> Decision:
    """Follow a plan for starts, given for each start whether it failed."""
    bad = 0
    for number, failure in enumerate(failed[: plan.longest], 1):
        bad += failure
        after = sum(failed[number:])
        if bad <= plan.accept_up_to[number - 1]:
            return Decision("accepted", number, bad, after)
        if bad >= plan.reject_from[number - 1]:
            return Decision("rejected", number, bad, after)
    accepts = (n for n, most in enumerate(plan.accept_up_to, 1) if most >= bad)
    return Decision("undecided", len(failed), bad, lacks=next(accepts) - len(failed))


def follow_hours(plan: HoursPlan, losses_at: Sequence[float], watched: float) -> Decision:
    """Follow a plan for hours.

    Parameters
    ----------
    losses_at : sequence of float
        Time watched up to each loss, in the measurement unit of the plan.
    watched : float
        Time watched in all.
    """
    for number, at in enumerate([*losses_at, math.inf]):
        if number == len(plan.accept_at):
            return Decision("rejected", losses_at[number - 1], number, len(losses_at) - number)
        if min(at, watched) >= plan.accept_at[number]:
            return Decision("accepted", plan.accept_at[number], number, len(losses_at) - number)
        if at <= plan.reject_at[number]:
            return Decision("rejected", at, number + 1, len(losses_at) - number - 1)
    failures = len(losses_at)
    return Decision("undecided", watched, failures, lacks=plan.accept_at[failures] - watched)


def plan_of(requirement: Requirement) -> Plan:
    """Return the plan that a requirement carries."""
    return thawed(requirement.params["plan"])


def has_plan(requirement: Requirement, course: Course) -> bool:
    """Tell whether a soak was begun under this plan: one chosen afterwards is none."""
    return any(
        own.id == requirement.id and own.params.get("plan") == requirement.params.get("plan")
        for own in course.header.requirements
    )


def starts_counted(requirement: Requirement, course: Course) -> list[tuple[Start, bool]]:
    """Return the starts that a plan counts, each with whether it failed."""
    return tried_of(requirement, course)


def hours_counted(
    requirement: Requirement, course: Course, until_s: float = math.inf
) -> tuple[list[float], float]:
    """Return the time in s watched before each loss, and in all, up to a soak time.

    Time in which the picture was lost is no time watched without a loss and is left out.
    """
    found = losses_of(requirement, course)
    lost = [(one.from_s, one.to_s) for episode in found.long for one in episode.dropouts]
    watched = common(minus(found.watched, lost), [(-math.inf, until_s)])
    begun = [episode.from_s for episode in found.long if episode.from_s <= until_s]
    return [total_s(common(watched, [(-math.inf, t_s)])) for t_s in begun], total_s(watched)


def decide(requirement: Requirement, course: Course, until_s: float = math.inf) -> Decision:
    """Say how far the plan of a requirement has come in one soak.

    Parameters
    ----------
    until_s : float
        Hours count up to this soak time only, s.
    """
    plan = plan_of(requirement)
    if isinstance(plan, StartsPlan):
        return follow_starts(plan, [bad for _, bad in starts_counted(requirement, course)])
    return follow_hours(plan, *hours_counted(requirement, course, until_s))
