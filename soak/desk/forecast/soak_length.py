"""Which length of soak costs least, with its interval where it comes from a table of lives."""

import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from soak.desk.forecast.evidence import in_hours, read_hours
from soak.desk.forecast.life_table import read_life_table
from soak.errors import UsageError, told_of
from soak.judge.explain.life import LEVEL, Weibull, fit_weibull
from soak.judge.explain.soak_length import Costs, cheapest_length_h, cost, length_bounds_h
from soak.words import Data, Message, Number, Output, Percent, joined, lines_of, msg, sentence

_TYPED = msg(
    "Shape and scale are taken as known, so there is no interval; a guess of them is a guess of "
    "the answer. From a table of your own units, with its interval: --lives TABLE."
)


def length(
    file: str,
    shape: float | None,
    scale: str,
    warranty: str,
    costs: Sequence[float],
    *,
    bench: Path | None = None,
    as_json: bool,
) -> Output:
    """Say which soak length costs least.

    Parameters
    ----------
    file : str
        A table of lives, of which shape and scale are fitted; or empty, and both are given.
    costs : sequence of float
        Of an hour of soaking, of a failure on the bench, of one at the buyer's.

    Raises
    ------
    UsageError
        If a figure is impossible, or the table holds too few failures.
    """
    try:
        paid = _costs(costs, read_hours(warranty, "--warranty"))
        if bool(file) == (shape is not None or bool(scale)):
            raise ValueError(msg("give either --lives, a table, or both --shape and --scale"))
        data = _by_table(file, bench, paid) if file else _typed(shape, scale, paid)
    except ValueError as fault:
        raise UsageError(told_of(fault)) from None
    if as_json:
        return Data(json.dumps(data, indent=2, allow_nan=False))
    return lines_of(_lines(data))


def _costs(costs: Sequence[float], warranty_h: float) -> Costs:
    if not all(math.isfinite(cost) and cost >= 0 for cost in costs):
        raise ValueError(msg("costs are numbers from 0 up"))
    if not (math.isfinite(warranty_h) and warranty_h > 0):
        raise ValueError(msg("--warranty is a time above 0"))
    per_hour, here, there = costs
    return Costs(per_hour=per_hour, failed_here=here, came_back=there, warranty_h=warranty_h)


def _typed(shape: float | None, scale: str, paid: Costs) -> dict[str, Any]:
    if shape is None or not scale:
        raise ValueError(msg("give both --shape and --scale"))
    life = Weibull(shape, read_hours(scale, "--scale"))
    if not all(math.isfinite(number) and number > 0 for number in (life.shape, life.scale)):
        raise ValueError(msg("shape and scale are positive"))
    return _data(life, paid)


def _by_table(file: str, bench: Path | None, paid: Costs) -> dict[str, Any]:
    table = read_life_table(file, bench)
    watched = table.lives()
    try:
        life = fit_weibull(watched)
        low_h, high_h = length_bounds_h(life, paid)
    except ValueError as fault:
        raise UsageError(joined(": ", [str(file), told_of(fault)])) from None
    return _data(life, paid) | {
        "failures": life.failures,
        "shape": life.shape,
        "scale_h": life.scale,
        "bound_low_h": low_h,
        "bound_high_h": high_h,
        "watched_from_h": min(unit.entry_h for unit in watched),
        "entries": table.watched,
    }


def _data(life: Weibull, paid: Costs) -> dict[str, Any]:
    best_h = cheapest_length_h(life, paid)
    return {
        "length_h": best_h,
        "cost": cost(life, best_h, paid),
        "cost_without": cost(life, 0.0, paid),
    }


def _lines(data: dict[str, Any]) -> list[Message]:
    best_h = data["length_h"]
    without = Number(data["cost_without"], ".2f")
    lines = [
        msg(
            "Soak for {time}: costs {cost} a unit, {without} without a soak.",
            time=in_hours(best_h),
            cost=Number(data["cost"], ".2f"),
            without=without,
        )
        if best_h
        else msg("No length pays: {without} a unit without a soak, more with one.", without=without)
    ]
    if "failures" not in data:
        return [*lines, _TYPED]
    low_h = data["bound_low_h"]
    high_h = data["bound_high_h"]
    between = msg(
        "By {failures} failures the length that costs least lies between {low} and {high}, at "
        "{level} confidence",
        failures=data["failures"],
        low=in_hours(low_h),
        high=in_hours(high_h),
        level=Percent(LEVEL),
    )
    open = msg("whether any soak pays is not settled by them") if low_h == 0 < high_h else None
    lines += [sentence(joined("; ", [between, open])), data["entries"]]
    if data["watched_from_h"] > best_h:
        lines.append(
            msg(
                "Nobody watched before {time}: what a shorter soak finds is the fitted curve's "
                "word alone.",
                time=in_hours(data["watched_from_h"]),
            )
        )
    return lines
