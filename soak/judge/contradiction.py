"""Demands that no unit can meet together, or nobody judge: found before anything runs."""

from collections.abc import Iterator, Sequence
from itertools import combinations

from soak.errors import Mistake
from soak.judge.judging import level_side, shortest_s, unreadable
from soak.quantities import show_duration, show_value
from soak.records import Requirement
from soak.rules.core.reads import Side


def contradictions(
    requirements: Sequence[Requirement], longest_s: float | None = None
) -> Iterator[Mistake]:
    """Yield each demand that cannot be met or judged, by its id, and why.

    Parameters
    ----------
    longest_s : float or None
        How long the whole soak may take, s; None if not known.
    """
    for requirement in requirements:
        wrong = unreadable(requirement)
        if wrong is not None:
            what = f"its parameter {wrong}, so nothing could judge it: see the check's code"
            yield Mistake(requirement.id, what)
    for requirement, other in combinations(requirements, 2):
        if _apart(requirement, other):
            low, high = _low_and_high(requirement, other)
            yield Mistake(
                high.id,
                f"demands at most {show_value(high.limit or 0.0, high.unit)} of {high.quantity}, "
                f"and {low.id} at least {show_value(low.limit or 0.0, low.unit)}; "
                "no unit can meet both: change one",
            )
    for requirement in requirements:
        needed_s = shortest_s(requirement)
        if longest_s is not None and needed_s > longest_s:
            yield Mistake(
                requirement.id,
                f"demands {show_duration(needed_s)} in one run, and the soak takes no longer than "
                f"{show_duration(longest_s)}: make one shorter or the other longer",
            )


def _apart(one: Requirement, other: Requirement) -> bool:
    """Tell whether two demands leave no value between them in a stretch that they share."""
    sides = {level_side(one), level_side(other)}
    if sides != {Side.AT_MOST, Side.AT_LEAST} or one.quantity != other.quantity:
        return False
    shared = one.stretch == other.stretch or "" in (one.stretch, other.stretch)
    low, high = _low_and_high(one, other)
    known = low.limit is not None and high.limit is not None
    return shared and known and (low.limit or 0.0) > (high.limit or 0.0)


def _low_and_high(one: Requirement, other: Requirement) -> tuple[Requirement, Requirement]:
    return (one, other) if level_side(one) is Side.AT_LEAST else (other, one)
