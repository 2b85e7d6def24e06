"""A track: what something is from when on, planned ahead and cut short when plans change."""

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from typing import Generic, TypeVar

from soak.derive.spans import Span, merged

V = TypeVar("V")


@dataclass(slots=True)
class Track(Generic[V]):
    """A piecewise constant value over time; `first` holds before the first change."""

    first: V
    _at_s: list[float] = field(default_factory=list)
    _values: list[V] = field(default_factory=list)

    def at(self, t_s: float) -> V:
        """Return the value at `t_s`; a change holds from its own instant on."""
        index = bisect_right(self._at_s, t_s) - 1
        return self.first if index < 0 else self._values[index]

    def next_change_s(self, t_s: float) -> float:
        """Return when the value next changes after `t_s`; infinite if no change is planned."""
        index = bisect_right(self._at_s, t_s)
        return self._at_s[index] if index < len(self._at_s) else float("inf")

    def changes_s(self, from_s: float, until_s: float) -> Sequence[float]:
        """Return the times of the changes in `(from_s, until_s]`."""
        return self._at_s[bisect_right(self._at_s, from_s) : bisect_right(self._at_s, until_s)]

    def since(self, from_s: float) -> list[tuple[float, V]]:
        """Return the value at `from_s` and every later change."""
        index = bisect_right(self._at_s, from_s)
        later = zip(self._at_s[index:], self._values[index:], strict=True)
        return [(from_s, self.at(from_s)), *later]

    def plan(self, from_s: float, changes: Iterable[tuple[float, V]]) -> None:
        """Forget what was planned from `from_s` on and plan these changes, in order of time."""
        keep = bisect_left(self._at_s, from_s)
        del self._at_s[keep:], self._values[keep:]
        last = self._values[-1] if self._values else self.first
        for at_s, value in changes:
            if value != last:
                self._at_s.append(at_s)
                self._values.append(value)
                last = value


@dataclass(slots=True)
class Spans:
    """Disjoint spans of time `[from_s, until_s)` in s, in order."""

    _from_s: list[float] = field(default_factory=list)
    _until_s: list[float] = field(default_factory=list)

    def add(self, spans: Iterable[Span]) -> None:
        """Add spans; those that overlap become one."""
        apart = merged([*zip(self._from_s, self._until_s, strict=True), *spans])
        self._from_s = [from_s for from_s, _ in apart]
        self._until_s = [until_s for _, until_s in apart]

    def cut(self, t_s: float) -> None:
        """Forget what lies after `t_s`."""
        keep = bisect_left(self._from_s, t_s)
        del self._from_s[keep:], self._until_s[keep:]
        if self._until_s:
            self._until_s[-1] = min(self._until_s[-1], t_s)

    def holds(self, t_s: float) -> bool:
        """Say whether `t_s` lies in one of the spans."""
        index = bisect_right(self._from_s, t_s) - 1
        return index >= 0 and t_s < self._until_s[index]

    def touch(self, from_s: float, until_s: float) -> bool:
        """Say whether `[from_s, until_s]` meets one of the spans."""
        index = bisect_right(self._from_s, until_s) - 1
        return index >= 0 and from_s < self._until_s[index]

    def edges_s(self, from_s: float) -> list[float]:
        """Return beginnings and ends after `from_s`."""
        edges = self._from_s[bisect_right(self._from_s, from_s) :]
        return edges + self._until_s[bisect_right(self._until_s, from_s) :]


def laid_over(
    changes: Sequence[tuple[float, V]], spans: Spans, change: Callable[[V], V]
) -> list[tuple[float, V]]:
    """Return the changes with `change(value)` in place of the value within the spans."""
    first_s, value = changes[0]
    base = Track(value)
    base.plan(first_s, changes)
    edges = sorted({*(t for t, _ in changes), *spans.edges_s(first_s)})
    return [(t, change(base.at(t)) if spans.holds(t) else base.at(t)) for t in edges]
