"""What the lives of a bench's own units say: a table of ages at failure, read and told."""

import json
from collections.abc import Mapping, Sequence
from operator import attrgetter, methodcaller
from pathlib import Path
from typing import Any

from soak.desk.forecast.evidence import read_hours
from soak.desk.forecast.life_table import History, LifeTable, read_life_table
from soak.errors import UsageError, told_of
from soak.judge.explain.life import (
    LEVEL,
    Life,
    Survival,
    Weibull,
    fails_within,
    fit_weibull,
    kaplan_meier,
    log_rank,
)
from soak.judge.explain.recurrence import Recurrence, mean_cumulative
from soak.words import joined, msg

_MOST_LINES = 12
"""Longer curves are told in so many lines; the data hold them all."""


def lives(
    file: str, *, bench: Path | None = None, age: str = "", window: str = "", as_json: bool
) -> str:
    """Tell survival, a Weibull fit, repeated failures and, by a column `group`, whether two differ.

    Parameters
    ----------
    bench : Path or None
        The bench's folder, whose ledger may know the hours of soak before a sale.
    age, window : str
        Tell also how likely a unit that works at that age fails within a window after it, h.

    Raises
    ------
    UsageError
        If the table cannot be read, nothing in it failed, or nobody watched the window.
    """
    if bool(age) != bool(window):
        raise UsageError(msg("give both --age and --window, or neither"))
    table = read_life_table(file, bench)
    units = table.units
    watched = table.lives()
    try:
        survival = kaplan_meier(watched)
        repeated = mean_cumulative(
            {name: (history.failures, history.end_h) for name, history in units.items()},
            {name: one.entry_h or 0.0 for name, one in units.items()},
        )
    except ValueError as fault:
        raise UsageError(joined(": ", [str(file), told_of(fault)])) from None
    fit, no_fit = _fit(watched)
    failed = sum(life.failed for life in watched)
    data: dict[str, Any] = {
        "units": len(units),
        "failed": failed,
        "entries": table.watched,
        "level": LEVEL,
        "survival": _curve_data(survival),
        "median_h": survival.median,
        "failures_a_unit": {"hours": list(repeated.times), "mean": list(repeated.means)},
        "weibull": None if fit is None else _fit_data(fit, survival),
    }
    if no_fit:
        data["no_fit"] = no_fit
    lines = [f"{failed} of {len(units)} units failed.", table.watched]
    lines += _curves(survival, repeated, data["weibull"])
    lines += _fit_lines(data["weibull"], no_fit)
    if age:
        lines += _window(
            watched, fit, read_hours(age, "--age"), window=read_hours(window, "--window"), data=data
        )
    lines += _compared(table, data)
    return json.dumps(data, indent=2, allow_nan=False) if as_json else joined("\n", lines)


def _fit(watched: Sequence[Life]) -> tuple[Weibull | None, str]:
    try:
        return fit_weibull(watched), ""
    except ValueError as fault:
        return None, str(fault)


def _told(survival: Survival) -> range:
    """Return which times of a curve are told in words."""
    step = max(1, -(-len(survival.times) // _MOST_LINES))
    return range(step - 1, len(survival.times), step)


def _curve_data(survival: Survival) -> dict[str, Any]:
    return {
        "from_h": survival.from_h,
        "hours": list(survival.times),
        "share": list(survival.shares),
        "standard_error": list(survival.errors),
        "bound_low": list(survival.bound_low),
        "bound_high": list(survival.bound_high),
    }


def _fit_data(fit: Weibull, survival: Survival) -> dict[str, Any]:
    times = [survival.times[at] for at in _told(survival)]
    bounds = [fit.bounds(methodcaller("survival", time, survival.from_h)) for time in times]
    return {
        "shape": fit.shape,
        "shape_bounds": fit.bounds(attrgetter("shape")),
        "scale_h": fit.scale,
        "scale_bounds_h": fit.bounds(attrgetter("scale")),
        "b10_h": fit.life(0.1),
        "b10_bounds_h": fit.bounds(methodcaller("life", 0.1)),
        "survival": {
            "from_h": survival.from_h,
            "hours": times,
            "share": [fit.survival(time, survival.from_h) for time in times],
            "bound_low": [low for low, _ in bounds],
            "bound_high": [high for _, high in bounds],
        },
    }


def _curves(survival: Survival, repeated: Recurrence, fit: Mapping[str, Any] | None) -> list[str]:
    median = "is not reached" if survival.median is None else f"is {survival.median:.4g} h"
    since = f" of those that work at {survival.from_h:g} h" if survival.from_h else ""
    lines = [
        f"Half-life (Kaplan-Meier){since} {median}. Share that still works, standard error "
        f"(Greenwood), and bounds at {LEVEL:.0%}:"
    ]
    for row, at in enumerate(_told(survival)):
        error = survival.errors[at]
        spread = "    -" if error is None else f"{error:.3f}"
        line = (
            f"  after {survival.times[at]:>8.4g} h  {survival.shares[at]:.3f}  {spread}  "
            f"{survival.bound_low[at]:.3f} to {survival.bound_high[at]:.3f}"
        )
        if fit is not None:
            curve = fit["survival"]
            line += (
                f"; by the fit {curve['share'][row]:.3f}, {curve['bound_low'][row]:.3f} to "
                f"{curve['bound_high'][row]:.3f}"
            )
        lines.append(line)
    return [
        *lines,
        f"Failures a unit by {repeated.times[-1]:.4g} h, repeated ones counted (mean cumulative "
        f"function): {repeated.means[-1]:.3g}.",
    ]


def _fit_lines(fit: Mapping[str, Any] | None, no_fit: str) -> list[str]:
    if fit is None:
        return [f"No Weibull fit: {no_fit}."]

    def between(name: str) -> str:
        low, high = fit[name]
        return f"({low:.4g} to {high:.4g})"

    return [
        f"Weibull: shape {fit['shape']:.4g} {between('shape_bounds')}, scale {fit['scale_h']:.4g} "
        f"h {between('scale_bounds_h')}; one in ten has failed by {fit['b10_h']:.4g} h "
        f"{between('b10_bounds_h')}. For the soak that costs least: soak evidence length --lives.",
        "What the fit says of ages that nobody watched is the curve's word alone.",
    ]


def _window(
    watched: Sequence[Life], fit: Weibull | None, age: float, window: float, data: dict[str, Any]
) -> list[str]:
    try:
        counted = fails_within(watched, age, window)
    except ValueError as fault:
        raise UsageError(msg("--age, --window: {why}", why=told_of(fault))) from None
    figures: dict[str, Any] = {
        "age_h": age,
        "window_h": window,
        "failed": counted.failed,
        "share": counted.share,
        "bounds": (counted.bound_low, counted.bound_high),
    }
    line = (
        f"A unit that works at {age:g} h fails within {window:g} h more in {counted.share:.1%} of "
        f"cases ({counted.bound_low:.1%} to {counted.bound_high:.1%}; {counted.failed} did)"
    )
    if fit is not None:
        low, high = fit.bounds(methodcaller("fails_within", age, window))
        figures |= {"by_fit": fit.fails_within(age, window), "bounds_by_fit": (low, high)}
        line += f"; by the fit {figures['by_fit']:.1%} ({low:.1%} to {high:.1%})"
    data["window"] = figures
    return [f"{line}. Hours are hours of running."]


def _compared(table: LifeTable, data: dict[str, Any]) -> list[str]:
    if len(table.groups) != 2:
        return []
    (name, one), (other_name, other) = table.groups.items()
    try:
        statistic, chance = log_rank(_lives(one), _lives(other))
    except ValueError as fault:
        return [f"{name} against {other_name}: {fault}."]
    data["log_rank"] = {"groups": [name, other_name], "statistic": statistic, "chance": chance}
    return [
        f"{name} against {other_name}: log-rank {statistic:.3f}; so different by luck in "
        f"{chance:.2g} of cases."
    ]


def _lives(group: Mapping[str, History]) -> list[Life]:
    return [history.life() for history in group.values()]
