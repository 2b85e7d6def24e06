"""A sequential plan as a script and a journal's header hold it: frozen before the first start."""

from soak.records import Json
from soak.statistics.plans import HoursPlan, StartsPlan

Plan = StartsPlan | HoursPlan


def frozen(plan: Plan) -> Json:
    """Write a plan as plain numbers.

    For starts: `longest`; `accept_from`, the start from which 0, 1, 2, ... failures accept;
    `reject_by`, the last start by which 1, 2, 3, ... failures reject (0: never). For hours, in s:
    `accept_at_s` and `reject_at_s` as in `HoursPlan`, and `shortest_s`.
    """
    if isinstance(plan, HoursPlan):
        return {
            "accept_at_s": list(plan.accept_at),
            "reject_at_s": list(plan.reject_at),
            "shortest_s": plan.shortest,
        }
    starts = range(1, plan.longest + 1)
    last = plan.accept_up_to[-1]
    return {
        "longest": plan.longest,
        "accept_from": [
            next(n for n in starts if plan.accept_up_to[n - 1] >= failed)
            for failed in range(last + 1)
        ],
        "reject_by": [
            max((n for n in starts if plan.reject_from[n - 1] <= failed), default=0)
            for failed in range(1, last + 2)
        ],
    }


def thawed(numbers: Json) -> Plan:
    """Return the plan that `frozen` wrote.

    Raises
    ------
    ValueError
        If the numbers are no plan.
    """
    try:
        if "accept_at_s" in numbers:
            return HoursPlan(tuple(numbers["accept_at_s"]), tuple(numbers["reject_at_s"]))
        accept = numbers["accept_from"]
        reject = numbers["reject_by"]
        starts = range(1, int(numbers["longest"]) + 1)
        return StartsPlan(
            tuple(sum(n >= begin for begin in accept) - 1 for n in starts),
            tuple(1 + sum(n > end for end in reject) for n in starts),
        )
    except (KeyError, TypeError) as fault:
        raise ValueError(f"these numbers are no plan: {fault}") from None
