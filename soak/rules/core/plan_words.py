"""What a sequential plan decided, in words: the tries before, its risks, its bound."""

from soak.frozen.references import Carried
from soak.statistics.plans import Outlook
from soak.terms import terms
from soak.words import Amount, Message, Number, Percent, counted, msg, paragraph


@terms
class PlanTerms:
    """What a plan was made for; the rest of it is as `soak.statistics.frozen` writes it.

    Attributes
    ----------
    of : str
        What it counts.
    good, bad : float
        A unit to be accepted and one to be rejected: shares of failed starts, or mean times
        between bouts of losses, s.
    good_rejected, bad_accepted : float or None
        Risks that were allowed.
    """

    of: str
    good: float
    bad: float
    good_rejected: float | None = None
    bad_accepted: float | None = None


def earlier_starts(before: Carried) -> Message | None:
    """Say what of the starts was made in earlier tries; nothing without such."""
    made = None
    if before.failed:
        made = counted(
            len(before.failed),
            "1 of them was made in earlier tries, {failed} failed; all tries count.",
            "{count} of them were made in earlier tries, {failed} failed; all tries count.",
            failed=sum(before.failed),
        )
    return paragraph(made, _otherwise(before))


def earlier_hours(before: Carried) -> Message | None:
    """Say what of the hours was watched in earlier tries; nothing without such."""
    made = None
    if before.watched_s:
        made = counted(
            len(before.losses_at),
            "{time} of it and 1 bout were in earlier tries; all tries count.",
            "{time} of it and {count} bouts were in earlier tries; all tries count.",
            time=Amount(before.watched_s, "s"),
        )
    return paragraph(made, _otherwise(before))


def _otherwise(before: Carried) -> Message | None:
    if not before.otherwise:
        return None
    return counted(
        before.otherwise,
        "1 failure under another plan counts along.",
        "{count} failures under another plan count along.",
    )


def start_risks(plan: PlanTerms, at_good: Outlook, at_bad: Outlook) -> Message:
    """Say how often a plan for starts decides wrongly."""
    return msg(
        "By it a unit that fails {good} % of its starts is turned away in {rejected} of cases, one "
        "that fails {bad} % is accepted in {accepted}.",
        good=Number(100 * plan.good),
        rejected=Percent(1 - at_good.accepted, 1),
        bad=Number(100 * plan.bad),
        accepted=Percent(at_bad.accepted, 1),
    )


def start_bound(high: float | None, confidence: float) -> Message | None:
    """Say the bound that an acceptance shows, a share; nothing without one."""
    if high is None:
        return None
    return msg(
        "That shows fewer than {high} % of such starts fail ({level} confidence, over all ways in "
        "which the plan may end).",
        high=Number(100 * high),
        level=Percent(confidence),
    )


def dropouts(number: int, watched_s: float) -> Message:
    """Say how many bouts of losses there were in the live time, s."""
    time = Amount(watched_s, "s")
    return counted(
        number,
        "1 bout of dropouts in {time} watched",
        "{count} bouts of dropouts in {time} watched",
        none=msg("no dropout in {time} watched", time=time),
        time=time,
    )


def parted(gap_s: float) -> Message | None:
    """Say which losses are one bout; nothing where an older plan counts each by itself."""
    if not gap_s:
        return None
    return msg(
        "Dropouts less than {gap} apart are one bout, and so long after each no time counts: that "
        "was fixed with the plan.",
        gap=Amount(gap_s, "s"),
    )


def hour_risks(plan: PlanTerms, at_good: Outlook, at_bad: Outlook) -> Message:
    """Say how often a plan for hours decides wrongly."""
    return msg(
        "By it a unit with one bout in {good} is turned away in {rejected} of cases, one with one "
        "bout in {bad} is accepted in {accepted}.",
        good=Amount(plan.good, "s"),
        rejected=Percent(1 - at_good.accepted, 1),
        bad=Amount(plan.bad, "s"),
        accepted=Percent(at_bad.accepted, 1),
    )


def hour_bound(high: float | None, confidence: float) -> Message | None:
    """Say the bound that an acceptance shows, a rate per hour; nothing without one."""
    if high is None:
        return None
    return msg(
        "That shows less than one bout in {time} on the whole ({level} confidence, over all ways "
        "in which the plan may end).",
        time=Amount(3600 / high, "s"),
        level=Percent(confidence),
    )
