"""Demands that no unit can meet together: a mistake of the script, found before anything runs."""

from collections.abc import Sequence
from itertools import combinations

from soak.quantities import show_duration, show_value
from soak.records import Requirement


def contradiction(
    requirements: Sequence[Requirement], longest_s: float | None = None
) -> tuple[str, str] | None:
    """Return the id of the first demand that cannot be met and why; None if all can.

    Parameters
    ----------
    longest_s : float or None
        How long the whole soak may take, s; None if not known.
    """
    for one, other in combinations(requirements, 2):
        if _apart(one, other):
            low, high = (one, other) if one.rule == "at least" else (other, one)
            return high.id, (
                f"demands at most {show_value(high.limit or 0.0, high.unit)} of {high.quantity}, "
                f"and {low.id} at least {show_value(low.limit or 0.0, low.unit)}; "
                "no unit can meet both: change one"
            )
    for one in requirements:
        if one.rule == "failure free" and longest_s is not None and (one.limit or 0.0) > longest_s:
            return one.id, (
                f"demands {show_duration(one.limit or 0.0)} without a fault, and the soak takes no "
                f"longer than {show_duration(longest_s)}: make one shorter or the other longer"
            )
    return None


def _apart(one: Requirement, other: Requirement) -> bool:
    """Tell whether two demands leave no value between them in a stretch that they share."""
    if {one.rule, other.rule} != {"at most", "at least"} or one.quantity != other.quantity:
        return False
    shared = one.stretch == other.stretch or "" in (one.stretch, other.stretch)
    low, high = (one, other) if one.rule == "at least" else (other, one)
    known = low.limit is not None and high.limit is not None
    return shared and known and (low.limit or 0.0) > (high.limit or 0.0)
