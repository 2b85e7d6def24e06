"""What the counts that a script allows by a rate let through: their operating characteristic."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from soak.records import Requirement
from soak.rules.core.hourly import allowed_by
from soak.rules.picture import DROPOUTS_PER_HOUR
from soak.rules.picture_fine import SPARKLE_PER_HOUR
from soak.statistics.hourly import MULTIPLES, chance_passed
from soak.words import Amount, Message, Number, Percent, indented, joined, msg

_CALLED = {
    DROPOUTS_PER_HOUR.name: msg("short dropouts"),
    SPARKLE_PER_HOUR.name: msg("times of sparkle"),
}
_TIMES: tuple[Callable[[Percent], Message], ...] = (
    lambda chance: msg("at half that rate {chance}", chance=chance),
    lambda chance: msg("at that rate {chance}", chance=chance),
    lambda chance: msg("at twice {chance}", chance=chance),
    lambda chance: msg("at four times {chance}", chance=chance),
)
"""One for each of the multiples."""
BOUTS = msg(
    "That is for faults that come by themselves; those that come in bouts pass and fail more "
    "often than this by luck."
)


@dataclass(frozen=True, slots=True)
class Allowed:
    """How many may come in the time that a script demands, and who keeps that.

    Attributes
    ----------
    what : Message
        What is counted.
    per_h : float
        The allowed rate.
    over_s : float
        Time demanded over all stretches together, s.
    count : int
        How many may come in it.
    passes : mapping of multiple to chance
        Chance that a unit at so many times the allowed rate keeps the count.
    """

    what: Message
    per_h: float
    over_s: float
    count: int
    passes: dict[float, float]


def allowed(needs: Iterable[Requirement]) -> Sequence[Allowed]:
    """Return the counts that these demands allow by a rate, each once."""
    rates: dict[tuple[object, ...], Allowed] = {}
    for rule in (DROPOUTS_PER_HOUR, SPARKLE_PER_HOUR):
        for need, terms in rule.among(list(needs)):
            count = allowed_by(need, terms)
            per_h = need.limit or 0.0
            over_s = terms.over_s or 0.0
            if count is None or not per_h:
                continue
            expected = per_h * over_s / 3600
            passes = {times: chance_passed(count, times * expected) for times in MULTIPLES}
            rates[rule.name, per_h] = Allowed(
                _CALLED[rule.name], per_h, over_s, count=count, passes=passes
            )
    return list(rates.values())


def allowed_data(needs: Iterable[Requirement]) -> list[dict[str, Any]]:
    """Return them for a program."""
    return [asdict(rate) for rate in allowed(needs)]


def allowed_told(needs: Iterable[Requirement]) -> list[Message]:
    """Say each in one line, and for which faults it holds."""
    rates = allowed(needs)
    if not rates:
        return []
    lines = [msg("Allowed by a rate, as a count that is fixed before:")]
    for own in rates:
        passes = [
            say(Percent(chance, 1)) for say, chance in zip(_TIMES, own.passes.values(), strict=True)
        ]
        line = msg(
            "at most {count} {what} in {time} over all stretches ({rate} an hour); chance to keep "
            "that with power all the time: {passes}",
            count=own.count,
            what=own.what,
            time=Amount(own.over_s, "s"),
            rate=Number(own.per_h, "g"),
            passes=joined(", ", passes),
        )
        lines.append(indented(line))
    return [*lines, indented(BOUTS)]
