"""How losses of a picture are read: the long ones counted, the shorter ones never left unsaid."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeVar

from soak.rules.core.hourly import HourlyReads, HourlyTerms
from soak.rules.core.reads import Counted, Reads, rate
from soak.rules.core.verdict import Finding
from soak.terms import counted_by
from soak.words import NOTHING_SAID, Amount, Message, counted

T = TypeVar("T", contravariant=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class Breaks(Counted[T]):
    """Losses of the picture over the time watched; those too short to count singly are told."""

    def together(self, parts: Sequence[Finding], nearest: Finding) -> Message:
        sentence = Counted.together(self, parts, nearest)
        return _and_shorter(sentence, sum(part.shorter for part in parts))

    def found(self, finding: Finding) -> Message:
        return _and_shorter(Counted.found(self, finding), finding.shorter)

    def large(self, parts: Sequence[Finding]) -> Message:
        # A stretch may demand both that no long one comes and that shorter ones are rare.
        stretches = dict.fromkeys(part.requirement.stretch for part in parts)
        of = [
            [part for part in parts if part.requirement.stretch == stretch] for stretch in stretches
        ]
        over_s = sum(max(part.over or 0.0 for part in own) for own in of)
        shorter = sum(max(part.shorter for part in own) for own in of)
        long = sum(max(map(_long, own)) for own in of)
        if not (over_s or long or shorter):
            return NOTHING_SAID
        return _breaks(round(long), shorter, _shortest_s(parts), Amount(over_s, "s"))


@dataclass(frozen=True, slots=True, kw_only=True)
class ShorterBreaks(HourlyReads):
    """How often in an hour the shorter ones came; read large with all the others.

    Attributes
    ----------
    of : Reads
        How they are all counted.
    """

    of: Reads[object]

    def large(self, parts: Sequence[Finding]) -> Message:
        return self.of.large(parts)

    @property
    def counts(self) -> Reads[HourlyTerms]:
        return self.of


PER_HOUR = "1/h"
"""Measurement unit of a demand on how often something comes: its value is no count."""


def _long(part: Finding) -> float:
    return 0.0 if part.requirement.unit == PER_HOUR else part.value or 0.0


def _shortest_s(parts: Sequence[Finding]) -> float:
    """Return the length in s below which these demands call a break short."""
    return max(counted_by(part.requirement).at_least_s for part in parts)


def _and_shorter(found: Message, shorter: int) -> Message:
    if not shorter:
        return found
    return counted(shorter, "{found}, and 1 shorter", "{found}, and {count} shorter", found=found)


def _breaks(long: int, shorter: int, shortest_s: float, time: Amount) -> Message:
    shortest = Amount(shortest_s, "s")
    if not shorter:
        return counted(
            long,
            "1 break in the picture in {time}",
            "{count} breaks in the picture in {time}",
            time=time,
        )
    if not long:
        return counted(
            shorter,
            "1 break in the picture in {time}, shorter than {shortest}",
            "{count} breaks in the picture in {time}, each shorter than {shortest}",
            time=time,
            shortest=shortest,
        )
    return counted(
        shorter,
        "{all} breaks in the picture in {time}, 1 of them shorter than {shortest}",
        "{all} breaks in the picture in {time}, {count} of them shorter than {shortest}",
        all=long + shorter,
        time=time,
        shortest=shortest,
    )


DROPOUTS: Breaks[object] = Breaks(bound_words=rate)
"""Losses of the picture over the time watched."""
