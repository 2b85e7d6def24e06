"""A stretch that a sequential plan may end early: how a script says so, frozen before it starts."""

from collections.abc import Mapping
from typing import Any, Literal

from pydantic import Field

from soak.checks.picture import PictureSettings
from soak.checks.power_cycles import PowerCyclesSettings
from soak.errors import ScriptError, told_of
from soak.judge.planning import gap_of_plan, hours_plan, starts_plan
from soak.mistakes import Mistakes
from soak.records import Json
from soak.settings import Seconds, Settings, checked
from soak.statistics.frozen import frozen
from soak.statistics.plans import StartsPlan
from soak.words import Amount, Message, msg

_SPARE = 0.1
"""So many more starts, or so much more time, than the longest plan takes may be made, as a share:
those that the bench did not see are not counted. At least 2 starts, or 15 min. Our own choice."""


class PlanSettings(Settings):
    """The table `[stretch.plan]`.

    Attributes
    ----------
    of : str
        What is counted: warm starts, cold starts, or hours without a loss of the picture.
    good : float
        A unit to be accepted: its share of failed starts, 0 to 1, or its mean time between
        bouts of losses, s.
    bad : float
        A unit to be rejected, in the same way.
    good_rejected : float
        Risk allowed that a good unit is rejected; the true one is no larger.
    bad_accepted : float
        Risk allowed that a bad unit is accepted; the true one is no larger.
    """

    of: Literal["warm starts", "cold starts", "hours"]
    good: Seconds
    bad: Seconds
    good_rejected: float = Field(default=0.10, gt=0, lt=1)
    bad_accepted: float = Field(default=0.10, gt=0, lt=1)


def planned(
    given: object, at: str, checks: Mapping[str, Settings], lasts_s: float, wrong: Mistakes
) -> tuple[Json, Mapping[str, Settings], float]:
    """Make a stretch's plan.

    Parameters
    ----------
    given : object
        The table as the file holds it.
    checks : mapping of check name to Settings
        The stretch's checks.
    lasts_s : float
        How long the stretch says it lasts, s.
    wrong : Mistakes
        What is wrong with the file so far; what contradicts the plan is taken in there.

    Returns
    -------
    (Json, mapping, float)
        The plan as it is frozen, the checks' settings and the length to run them with: long
        enough for the longest course of the plan.

    Raises
    ------
    ScriptError
        If the plan cannot be made.
    """
    file = wrong.file
    if lasts_s:
        what = msg(
            "cannot stand beside a plan, which says how long the stretch lasts; leave it out"
        )
        wrong.add(f"{at}.lasts", what)
    terms = checked(PlanSettings, given, file, error=ScriptError, at=f"{at}.plan")
    risks = (terms.good, terms.bad, terms.good_rejected, terms.bad_accepted)
    try:
        plan = hours_plan(*risks) if terms.of == "hours" else starts_plan(*risks)
    except ValueError as fault:
        raise ScriptError(file, f"{at}.plan", told_of(fault)) from None
    own: dict[str, Any] = {**terms.model_dump(), **frozen(plan)}
    if isinstance(plan, StartsPlan):
        return own, _with_starts(terms.of, plan.longest, at, checks=checks, wrong=wrong), 0.0
    _refuse_beside_hours(file, at, checks)
    own["gap_s"] = gap_of_plan(terms.bad)
    # After each bout that it may yet accept with, a gap passes that does not count.
    longest_s = plan.longest + (len(plan.accept_at) - 1) * own["gap_s"]
    return own, checks, longest_s + max(longest_s * _SPARE, 900.0)


def _with_starts(
    of: str, longest: int, at: str, checks: Mapping[str, Settings], wrong: Mistakes
) -> Mapping[str, Settings]:
    cycles = checks.get("power_cycles")
    if not isinstance(cycles, PowerCyclesSettings):
        raise ScriptError(
            wrong.file, f"{at}.plan", msg("counts {of}; add [stretch.power_cycles]", of=of)
        )
    for key in ("warm", "cold", "quick", "failed_allowed", "heat_cycles"):
        if getattr(cycles, key, None):
            what = msg(
                "leave it out: the plan counts {of}, at most {longest} of them",
                of=of,
                longest=longest,
            )
            wrong.add(f"{at}.power_cycles.{key}", what)
    number = longest + max(2, round(longest * _SPARE))
    settings = cycles.model_copy(update={of.partition(" ")[0]: number})
    return {**checks, "power_cycles": settings}


def _refuse_beside_hours(file: str, at: str, checks: Mapping[str, Settings]) -> None:
    picture = checks.get("picture")
    if not isinstance(picture, PictureSettings):
        raise ScriptError(
            file, f"{at}.plan", msg("counts losses of the picture; add [stretch.picture]")
        )
    if picture.failure_free_s is not None:
        what = msg("would be cut off by the plan; demand it in a stretch of its own after this one")
        raise ScriptError(file, f"{at}.picture.failure_free_s", what)


def refuse_beside_hours(file: str, at: str, plan: Json, ending: list[str]) -> None:
    """Refuse a check that ends by itself in a stretch whose hours a plan counts.

    Raises
    ------
    ScriptError
        If there is one.
    """
    if plan["of"] == "hours" and ending:
        what = msg(
            "comes to its end by itself, and the plan ends when {reached}; put it into another "
            "stretch",
            reached=_reached(plan),
        )
        raise ScriptError(file, f"{at}.{ending[0]}", what)


def _reached(plan: Json) -> Message:
    return msg(
        "{shortest} to {longest} were watched",
        shortest=Amount(plan["shortest_s"], "s"),
        longest=Amount(plan["accept_at_s"][-1], "s"),
    )
