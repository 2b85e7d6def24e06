"""What a stretch's sequential plan will do: longest and usual time, true risks."""

from collections.abc import Sequence
from dataclasses import dataclass

from soak.checks.power_cycles import PowerCyclesSettings
from soak.quantities import show_duration
from soak.records import Json
from soak.run.plan import StretchPlan
from soak.statistics.frozen import thawed
from soak.statistics.plan_bounds import highest_share, shortest_mean
from soak.statistics.plans import StartsPlan


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


def plan_told(own: Planned) -> Sequence[str]:
    """Say it in lines."""
    starts = own.of != "hours"
    good = _kind(own.good, starts=starts)
    bad = _kind(own.bad, starts=starts)
    most = f"{show_duration(own.longest)} watched"
    if starts:
        most = f"{own.longest:.0f} {own.of}, {show_duration(own.longest_s)}"
    least = f"{own.shortest:.0f}" if starts else show_duration(own.shortest)
    usual = [show_duration(own.usual_good), show_duration(own.usual_bad)]
    if starts:
        usual = [f"{own.usual_good:.0f} ({show_duration(own.usual_s)})", f"{own.usual_bad:.0f}"]
    shows = (
        f"fewer than {100 * own.bound:.3g} % of such fail"
        if starts
        else f"less than one bout of losses in {show_duration(own.bound)} on the whole"
    )
    bouts = [
        f"losses less than {show_duration(own.gap_s)} apart are one bout, and so long after each "
        "no time counts"
    ]
    return [
        f"ends by its plan: at most {most}; plan for that",
        f"on average {usual[0]} for a unit {good}, {usual[1]} for one {bad}",
        f"true risks: the good one is turned away in {100 * own.good_rejected:.1f} %, the bad one "
        f"accepted in {100 * own.bad_accepted:.1f} % of cases",
        f"accepted after {least} without a failure it shows {shows}",
        *(bouts if own.gap_s else ()),
    ]


def _kind(value: float, *, starts: bool) -> str:
    if starts:
        return f"that fails {100 * value:.3g} % of them"
    return f"with one bout of losses in {show_duration(value)}"
