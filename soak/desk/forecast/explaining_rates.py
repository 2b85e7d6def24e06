"""What the counts that a script allows by a rate let through: their operating characteristic."""

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from soak.quantities import show_duration
from soak.records import Requirement
from soak.rules.core.hourly import allowed_by
from soak.rules.picture import DROPOUTS_PER_HOUR
from soak.rules.picture_fine import SPARKLE_PER_HOUR
from soak.statistics.hourly import MULTIPLES, chance_passed

_CALLED = {DROPOUTS_PER_HOUR.name: "short dropouts", SPARKLE_PER_HOUR.name: "times of sparkle"}
_TIMES = dict(zip(MULTIPLES, ("half that rate", "that rate", "twice", "four times"), strict=True))
BOUTS = (
    "That is for faults that come by themselves; those that come in bouts pass and fail more "
    "often than this by luck."
)


@dataclass(frozen=True, slots=True)
class Allowed:
    """How many may come in the time that a script demands, and who keeps that.

    Attributes
    ----------
    what : str
        What is counted, in words.
    per_h : float
        The allowed rate.
    over_s : float
        Time demanded over all stretches together, s.
    count : int
        How many may come in it.
    passes : mapping of multiple to chance
        Chance that a unit at so many times the allowed rate keeps the count.
    """

    what: str
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


def allowed_told(needs: Iterable[Requirement]) -> list[str]:
    """Say each in one line, and for which faults it holds."""
    rates = allowed(needs)
    if not rates:
        return []
    lines = ["Allowed by a rate, as a count that is fixed before:"]
    for own in rates:
        passes = ", ".join(f"at {_TIMES[x]} {chance:.1%}" for x, chance in own.passes.items())
        lines.append(
            f"  at most {own.count} {own.what} in {show_duration(own.over_s)} over all stretches "
            f"({own.per_h:g} an hour); chance to keep that with power all the time: "
            f"{passes}"
        )
    return [*lines, f"  {BOUTS}"]
