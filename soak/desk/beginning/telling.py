"""What a soak will have shown, what it cannot show and what stays open: said before it begins."""

from collections.abc import Sequence

from soak.desk.beginning.asking import say
from soak.desk.forecast.explaining import in_short
from soak.desk.soaking.before_night import Ahead, short_of_room, standing
from soak.names import named
from soak.rules.core.verdict import Verdict
from soak.run.plan import Plan, StretchPlan
from soak.words import NOTHING_SAID, Amount, Message, Percent, in_brackets, joined, msg


def tell(
    ahead: Ahead,
    plan: Plan,
    left_out: Sequence[Message],
    to_write: Sequence[Message],
    warnings: Sequence[Message],
) -> None:
    """Say it all, before the last question.

    Parameters
    ----------
    left_out : sequence of Message
        Of what would show the repair better.
    to_write : sequence of Message
        What a yes writes.
    warnings : sequence of Message
        What must be heard before power.
    """
    prepared = ahead.prepared
    script = prepared.script
    shown, cannot = in_short(script, plan)
    works = [one.text for one in ahead.functions if one.verdict is not Verdict.NOT_TESTED]
    say(NOTHING_SAID)
    say(
        msg(
            "{tag} on {fixture}: {time} if all goes well, at most {most}, by the script {script}.",
            tag=ahead.tag,
            fixture=prepared.fixture.name,
            time=Amount(sum(part.expected_s for part in plan.stretches), "s"),
            most=Amount(script.head.not_after, "s"),
            script=repr(script.head.name),
        )
    )
    _list(msg("In this order:"), [joined("; ", map(_part, plan.stretches))])
    _list(
        msg(
            "It will have shown, if all goes well (at {level} confidence):",
            level=Percent(script.head.confidence),
        ),
        [*([joined(", ", works)] if works else [msg("no function of the unit")]), *shown],
    )
    # A key function that nothing exercises is told by what closes it, below.
    below = {
        msg("not exercised: {function}", function=function.text)
        for function in prepared.sheet.functions.values()
        if function.key
    }
    cannot = [line for line in cannot if line not in below]
    _list(msg("It cannot show:"), [*left_out, *cannot])
    short = short_of_room([prepared])
    points = [
        msg("{told} To close it: {closes}", told=point.told, closes=point.closes)
        for point in standing(ahead)
    ]
    _list(msg("It stays open:"), [*filter(None, [short]), *points])
    _list(msg("MIND:"), warnings)
    _list(msg("Your yes writes:"), to_write)


def _part(part: StretchPlan) -> Message:
    """Say one stretch: its name, its time, and whether somebody is needed all the while."""
    told = joined(" ", [named(part.stretch.name), Amount(part.expected_s, "s")])
    return joined(" ", [told, in_brackets(msg("with you"))]) if part.stretch.attended else told


def _list(head: Message, lines: Sequence[Message]) -> None:
    if not lines:
        return
    say(head)
    for line in lines:
        say(line, "  ")
