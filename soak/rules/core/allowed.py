"""How demands and limits say what is allowed, so that nothing is demanded that is not judged."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import TypeVar

from soak.records import Requirement
from soak.rules.core.reads import Reads
from soak.words import Message, counted

T = TypeVar("T", contravariant=True)


def but_for(need: Requirement, demand: Message) -> Message:
    """Say a demand on every one of many with how many need not keep it."""
    return counted(
        need.limit or 0.0,
        "{demand}, but for 1 of them",
        "{demand}, but for {count} of them",
        none=demand,
        demand=demand,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided(Reads[T]):
    """A value held against a limit that the rule knows where a demand states none.

    Attributes
    ----------
    decides : callable
        Returns the limit that a requirement is judged by.
    """

    decides: Callable[[Requirement, T], float]

    def limit(self, need: Requirement, terms: T | None) -> Message:
        stated = need if terms is None else replace(need, limit=self.decides(need, terms))
        return Reads.limit(self, stated, terms)
