"""How findings are read: each kind says value, limit, margin and bound in words, and adds up.

The direction of a limit stands in the kind, so that it can be printed in no other.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import ClassVar, Generic, TypeVar

from soak.records import Requirement
from soak.rules.core.verdict import Finding, Verdict
from soak.words import (
    NOTHING_SAID,
    Amount,
    Message,
    Number,
    Percent,
    counted,
    just,
    msg,
)

T = TypeVar("T", contravariant=True)
NONE = msg("–")
_COUNTED_IN = frozenset({"", "1", "B", "s", "1/h"})
"""Units of what is counted, how often or for how long: of these a limit of 0 is no amount."""


class Side(Enum):
    """On which side of its limit a value is good."""

    AT_MOST = 1
    AT_LEAST = -1


@dataclass(frozen=True, slots=True, kw_only=True)
class Reads(Generic[T]):
    """How the findings of a rule are read: here a value held against a limit.

    Attributes
    ----------
    side : Side
        The good side of the limit.
    as_share : bool
        Whether values are shares, written in percent.
    bound_words : callable or None
        Says the bound beside a value as what it is, given the finding; None: there is none.
    level : bool
        Whether the limit is a level of the quantity itself, as a chart can draw it.
    """

    side: Side = Side.AT_MOST
    as_share: bool = False
    bound_words: Callable[[Finding], Message] | None = None
    level: bool = False
    adds_up: ClassVar[bool] = False
    """Whether what several findings found is added up, while each keeps its own limit."""

    def value(self, value: float, need: Requirement) -> Message:
        """Say a value."""
        if self.as_share:
            return just(Percent(value))
        return just(Amount(value, need.unit))

    def found(self, finding: Finding) -> Message:
        """Say what was found."""
        if finding.verdict is Verdict.NOT_TESTED:
            return msg("not measured")
        if finding.value is None:
            return msg("no value")
        return self.value(finding.value, finding.requirement)

    def limit(self, need: Requirement, terms: T | None) -> Message:
        """Say the limit in its own direction; `terms` is None where they cannot be read."""
        if need.limit is None:
            return msg("none")
        value = self.value(need.limit, need)
        if self.side is Side.AT_LEAST:
            return msg("at least {value}", value=value)
        if not need.limit and need.unit in _COUNTED_IN:
            return msg("none allowed")
        return msg("at most {value}", value=value)

    def limit_kind(self, unit: str) -> str:
        """Describe the limit for the reference: its direction and measurement unit."""
        return f"at least, in {unit}" if self.side is Side.AT_LEAST else f"at most, in {unit}"

    def margin(self, finding: Finding) -> Message:
        """Say the distance to the limit; a count that may not occur at all has none."""
        need = finding.requirement
        margin = finding.margin
        if margin is None or finding.value is None:
            return NONE
        if margin == 0:
            return msg("at the limit") if need.limit else NONE
        # A difference of temperatures is in K.
        value = (
            just(Amount(abs(margin), "K")) if need.unit == "degC" else self.value(abs(margin), need)
        )
        if margin > 0:
            return msg("{value} to spare", value=value)
        if self.side is Side.AT_LEAST:
            return msg("{value} short", value=value)
        return msg("{value} over", value=value)

    def bound(self, finding: Finding) -> Message:
        """Say the bound beside a value as what it is, in small letters; nothing without one."""
        if self.bound_words is None or finding.bound_high is None:
            return NOTHING_SAID
        return self.bound_words(finding)

    def together(self, parts: Sequence[Finding], nearest: Finding) -> Message:
        """Say what several findings found; `nearest` is the one nearest to its limit."""
        return self.found(nearest)

    def large(self, parts: Sequence[Finding]) -> Message:
        """Say the count over several findings, to be read large; nothing if it is no count."""
        return NOTHING_SAID

    def failed(self, parts: Sequence[Finding]) -> Message:
        """Say over several findings what failed; nothing if it is no count that reads large."""
        return self.large(parts)

    @property
    def counts(self) -> "Reads[T]":
        """Whose count it is: findings of the same are added up."""
        return self


def accuracy(finding: Finding) -> Message:
    """Say bounds of accuracy."""
    low = finding.bound_low
    high = finding.bound_high
    need = finding.requirement
    if low is None or high is None:
        return NOTHING_SAID
    return msg(
        "between {low} and {high} by the probe's accuracy",
        low=Amount(low, need.unit),
        high=Amount(high, need.unit),
    )


def rate(finding: Finding) -> Message:
    """Say the upper bound of bouts per hour as the time in which there is one."""
    high = finding.bound_high
    if not high:
        return NOTHING_SAID
    return msg(
        "less often than 1 bout in {often} of such running ({level} confidence)",
        often=Amount(3600 / high, "s"),
        level=_level(finding),
    )


def failed_starts(finding: Finding) -> Message:
    """Say the upper bound of the share of failed starts."""
    high = finding.bound_high
    if not high:
        return NOTHING_SAID
    return msg(
        "share of failed starts below {high} ({level} confidence)",
        high=Percent(high, 1),
        level=_level(finding),
    )


def failed_plug_ins(finding: Finding) -> Message:
    """Say the upper bound of the share of failed plug-ins."""
    high = finding.bound_high
    if not high:
        return NOTHING_SAID
    return msg(
        "share of failed plug-ins below {high} ({level} confidence)",
        high=Percent(high, 1),
        level=_level(finding),
    )


def _level(finding: Finding) -> Percent:
    return Percent(finding.requirement.confidence or 0.95)


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted(Reads[T]):
    """A count over what was watched: parts of a script add up.

    Attributes
    ----------
    large_words : callable or None
        Says a count and what it is over (`Finding.over`, summed), to be read large.
    """

    adds_up: ClassVar[bool] = True
    large_words: Callable[[float, float], Message] | None = None

    def together(self, parts: Sequence[Finding], nearest: Finding) -> Message:
        findings = [part for part in parts if part.value is not None]
        if not findings:
            return self.found(nearest)
        return self.value(sum(part.value or 0.0 for part in findings), nearest.requirement)

    def large(self, parts: Sequence[Finding]) -> Message:
        over = sum(part.over or 0.0 for part in parts)
        count = sum(part.value or 0.0 for part in parts)
        if self.large_words is None or not (over or count):
            return NOTHING_SAID
        return self.large_words(count, over)


@dataclass(frozen=True, slots=True, kw_only=True)
class Tried(Reads[T]):
    """Trials of which some failed; `Finding.over` is their number.

    Attributes
    ----------
    large_words : callable or None
        Says how many of how many worked, to be read large.
    failed_words : callable or None
        Says how many of how many failed.
    """

    adds_up: ClassVar[bool] = True
    large_words: Callable[[int, int], Message] | None = None
    failed_words: Callable[[int, int], Message] | None = None

    def found(self, finding: Finding) -> Message:
        if finding.verdict is Verdict.NOT_TESTED or finding.value is None or not finding.over:
            return Reads.found(self, finding)
        return _worked(*_good([finding]))

    def limit(self, need: Requirement, terms: T | None) -> Message:
        if need.limit is None:
            return msg("none")
        if not need.limit:
            return msg("none may fail")
        return msg("at most {failed} failed", failed=Number(need.limit, "g"))

    def together(self, parts: Sequence[Finding], nearest: Finding) -> Message:
        findings = [part for part in parts if part.value is not None and part.over]
        return _worked(*_good(findings)) if findings else self.found(nearest)

    def large(self, parts: Sequence[Finding]) -> Message:
        good, tried = _good(parts)
        if self.large_words is None or not tried:
            return NOTHING_SAID
        return self.large_words(good, tried)

    def failed(self, parts: Sequence[Finding]) -> Message:
        good, tried = _good(parts)
        if self.failed_words is None or not tried:
            return NOTHING_SAID
        return self.failed_words(tried - good, tried)


def _good(parts: Sequence[Finding]) -> tuple[int, int]:
    tried = sum(round(part.over or 0) for part in parts)
    return tried - round(sum(part.value or 0.0 for part in parts)), tried


def _worked(good: int, tried: int) -> Message:
    return msg("{good} of {tried} worked", good=good, tried=tried)


@dataclass(frozen=True, slots=True, kw_only=True)
class ByPlan(Reads[T]):
    """A count that a sequential plan decides upon; read as the count it is.

    Attributes
    ----------
    of : Reads
        How the same count is read where no plan decides.
    """

    of: Reads[T]

    def found(self, finding: Finding) -> Message:
        return self.of.found(finding)

    def limit(self, need: Requirement, terms: T | None) -> Message:
        return msg("as its plan accepts")

    def limit_kind(self, unit: str) -> str:
        return "as its plan accepts"

    def bound(self, finding: Finding) -> Message:
        return self.of.bound(finding)

    def together(self, parts: Sequence[Finding], nearest: Finding) -> Message:
        return self.of.together(parts, nearest)

    def large(self, parts: Sequence[Finding]) -> Message:
        return self.of.large(parts)

    @property
    def counts(self) -> Reads[T]:
        return self.of


STARTS: Tried[object] = Tried(
    bound_words=failed_starts,
    large_words=lambda good, tried: counted(
        tried, "{good} of 1 start worked", "{good} of {count} starts worked", good=good
    ),
    failed_words=lambda bad, tried: counted(
        bad, "1 of {tried} starts failed", "{count} of {tried} starts failed", tried=tried
    ),
)
"""Starts of the unit."""
