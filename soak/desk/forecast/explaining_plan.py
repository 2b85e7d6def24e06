"""What a stretch's sequential plan will do: longest and usual time, true risks."""

from collections.abc import Sequence
from dataclasses import dataclass

from soak.checks.power_cycles import PowerCyclesSettings
from soak.records import Json
from soak.run.plan import StretchPlan
from soak.statistics.frozen import thawed
from soak.statistics.plan_bounds import highest_share, shortest_mean
from soak.statistics.plans import StartsPlan
from soak.words import Amount, Message, Number, Percent, msg


@dataclass(frozen=True, slots=True)
class Planned:
    """The figures of a plan; lengths are starts or s, as `of` says.

    Attributes
    ----------
    of : str
        What it counts.
    good, bad : float
        Shares of failed starts, or mean times between bouts of losses in s.
    longest, shortest, usual_good, usual_bad : float
        Most it takes, least after which it accepts, means for a good and for a bad unit.
    good_rejected, bad_accepted : float
        True risks.
    bound : float
        What acceptance without a failure shows: share of failed starts below, or mean time above.
    longest_s, usual_s : float
        Longest time, and mean time for a good unit, s.
    gap_s : float
        Losses less than so far apart are one bout, s; 0 where starts are counted.
    """

    of: str
    good: float
    bad: float
    longest: float
    shortest: float
    usual_good: float
    usual_bad: float
    good_rejected: float
    bad_accepted: float
    bound: float
    longest_s: float
    usual_s: float
    gap_s: float = 0.0


def plan_shown(part: StretchPlan, confidence: float) -> Planned | None:
    """Return the figures of a stretch's plan; None if it has none that this fixture can follow."""
    terms = part.stretch.plan
    check = "picture" if terms and terms["of"] == "hours" else "power_cycles"
    if terms is None or check not in {made.name for made in part.checks}:
        return None
    plan = thawed(terms)
    at_good = plan.outlook(terms["good"])
    at_bad = plan.outlook(terms["bad"])
    if isinstance(plan, StartsPlan):
        bound = highest_share(plan, 0, confidence)
        each_s = _each_s(terms, part)
    else:
        bound = shortest_mean(plan, 0, confidence)
        each_s = 1.0
    return Planned(
        of=terms["of"],
        good=terms["good"],
        bad=terms["bad"],
        longest=plan.longest,
        shortest=plan.shortest,
        usual_good=at_good.expected,
        usual_bad=at_bad.expected,
        good_rejected=1 - at_good.accepted,
        bad_accepted=at_bad.accepted,
        bound=bound,
        longest_s=plan.longest * each_s,
        usual_s=at_good.expected * each_s,
        gap_s=terms.get("gap_s", 0.0),
    )


def _each_s(terms: Json, part: StretchPlan) -> float:
    cycles = part.stretch.checks["power_cycles"]
    assert isinstance(cycles, PowerCyclesSettings)  # a plan for starts is refused without it
    if terms["of"] == "cold starts":
        return cycles.cold_off_at_most_s + cycles.cold_on_s
    return cycles.off_s + cycles.on_s


def plan_told(own: Planned) -> Sequence[Message]:
    """Say it in lines."""
    return [*(_in_hours(own) if own.of == "hours" else _in_starts(own)), *_risks(own)]


def _in_starts(own: Planned) -> Sequence[Message]:
    most = Number(own.longest, ".0f")
    time = Amount(own.longest_s, "s")
    if own.of == "cold starts":
        at_most = msg(
            "ends by its plan: at most {most} cold starts, {time}; plan for that",
            most=most,
            time=time,
        )
    else:
        at_most = msg(
            "ends by its plan: at most {most} warm starts, {time}; plan for that",
            most=most,
            time=time,
        )
    return [
        at_most,
        msg(
            "on average {usual_good} ({time}) for a unit that fails {good} % of them, {usual_bad} "
            "for one that fails {bad} % of them",
            usual_good=Number(own.usual_good, ".0f"),
            time=Amount(own.usual_s, "s"),
            good=Number(100 * own.good, ".3g"),
            usual_bad=Number(own.usual_bad, ".0f"),
            bad=Number(100 * own.bad, ".3g"),
        ),
        msg(
            "accepted after {least} without a failure it shows fewer than {percent} % of such fail",
            least=Number(own.shortest, ".0f"),
            percent=Number(100 * own.bound, ".3g"),
        ),
    ]


def _in_hours(own: Planned) -> Sequence[Message]:
    return [
        msg(
            "ends by its plan: at most {time} watched; plan for that", time=Amount(own.longest, "s")
        ),
        msg(
            "on average {usual_good} for a unit with one bout of losses in {good}, {usual_bad} for "
            "one with one bout of losses in {bad}",
            usual_good=Amount(own.usual_good, "s"),
            good=Amount(own.good, "s"),
            usual_bad=Amount(own.usual_bad, "s"),
            bad=Amount(own.bad, "s"),
        ),
        msg(
            "accepted after {least} without a failure it shows less than one bout of losses in "
            "{time} on the whole",
            least=Amount(own.shortest, "s"),
            time=Amount(own.bound, "s"),
        ),
    ]


def _risks(own: Planned) -> Sequence[Message]:
    risks = msg(
        "true risks: the good one is turned away in {good}, the bad one accepted in {bad} of cases",
        good=Percent(own.good_rejected, 1),
        bad=Percent(own.bad_accepted, 1),
    )
    if not own.gap_s:
        return [risks]
    bouts = msg(
        "losses less than {gap} apart are one bout, and so long after each no time counts",
        gap=Amount(own.gap_s, "s"),
    )
    return [risks, bouts]
