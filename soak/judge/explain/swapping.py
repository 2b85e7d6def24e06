"""The swap test: which part do the losses go with? Three minutes that decide unit or bench."""

from collections.abc import Sequence
from dataclasses import dataclass

from soak.statistics.compare import chance_by_luck
from soak.words import Message, Percent, Stated, all_of, msg, paragraph

LUCK = 0.05
"""A swap that cured it by luck more often than this decides nothing yet. Common practice."""


@dataclass(frozen=True, slots=True)
class Swapped:
    """One part exchanged, and what was seen for a while.

    Attributes
    ----------
    part : str
        What was exchanged; empty for the first look at everything as it was.
    losses : int
        Losses seen.
    watched_s : float
        For how long, s.
    """

    part: str
    losses: int
    watched_s: float


def decide(looks: Sequence[Swapped]) -> Message:
    """Say in one sentence where the fault lies.

    Parameters
    ----------
    looks : sequence of Swapped
        The first as it was, then one part after another, each put back before the next.
    """
    if not looks or looks[0].part:
        raise ValueError("the first look is at everything as it was")
    first, rest = looks[0], looks[1:]
    if not first.losses:
        return msg(
            "No loss in {time} as it was: move the plug or warm the unit until it shows, then "
            "swap; without a loss nothing can be decided.",
            time=Stated(round(first.watched_s), "s"),
        )
    cured = [look for look in rest if not look.losses]
    if not rest:
        return msg("Nothing was swapped, so nothing is decided.")
    if not cured:
        return msg(
            "The losses stay whatever is swapped ({parts}): it is the unit.",
            parts=", ".join(look.part for look in rest),
        )
    if len(cured) == len(rest) and len(rest) > 1:
        return msg("Every swap cured it: the fault comes and goes; watch longer before deciding.")
    luck = max(chance_by_luck(first.losses, first.watched_s, look.watched_s) for look in cured)
    went = msg(
        "The losses went with the {parts}: it is the bench, not the unit.",
        parts=all_of(look.part for look in cured),
    )
    if luck <= LUCK:
        return went
    mind = msg("Silence so long is luck in {luck} of cases: watch longer.", luck=Percent(luck))
    return paragraph(went, mind)
