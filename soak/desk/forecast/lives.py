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
from soak.words import (
    Data,
    Message,
    Number,
    Output,
    Percent,
    indented,
    joined,
    lines_of,
    msg,
    paragraph,
    sentence,
)

_MOST_LINES = 12
"""Longer curves are told in so many lines; the data hold them all."""


def lives(
    file: str, *, bench: Path | None = None, age: str = "", window: str = "", as_json: bool
) -> Output:
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
    lines = [
        msg("{failed} of {units} units failed.", failed=failed, units=len(units)),
        table.watched,
    ]
    lines += _curves(survival, repeated, data["weibull"])
    lines += _fit_lines(data["weibull"], no_fit)
    if age:
        lines += _window(
            watched, fit, read_hours(age, "--age"), window=read_hours(window, "--window"), data=data
        )
    lines += _compared(table, data)
    return Data(json.dumps(data, indent=2, allow_nan=False)) if as_json else lines_of(lines)


def _fit(watched: Sequence[Life]) -> tuple[Weibull | None, Message | None]:
    try:
        return fit_weibull(watched), None
    except ValueError as fault:
        return None, told_of(fault)


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


def _curves(
    survival: Survival, repeated: Recurrence, fit: Mapping[str, Any] | None
) -> list[Message]:
    half = msg("Half-life (Kaplan-Meier)")
    if survival.from_h:
        half = msg(
            "Half-life (Kaplan-Meier) of those that work at {age} h",
            age=Number(survival.from_h, "g"),
        )
    reached = msg("{half_life} is not reached.", half_life=half)
    if survival.median is not None:
        median = Number(survival.median, ".4g")
        reached = msg("{half_life} is {median} h.", half_life=half, median=median)
    columns = msg(
        "Share that still works, standard error (Greenwood), and bounds at {level}:",
        level=Percent(LEVEL),
    )
    lines = [paragraph(reached, columns)]
    for row, at in enumerate(_told(survival)):
        by_fit = None if fit is None else _by_fit(fit["survival"], row)
        lines.append(indented(joined("; ", [_by_curve(survival, at), by_fit])))
    every = msg(
        "Failures a unit by {time} h, repeated ones counted (mean cumulative function): {mean}.",
        time=Number(repeated.times[-1], ".4g"),
        mean=Number(repeated.means[-1], ".3g"),
    )
    return [*lines, every]


def _by_curve(survival: Survival, at: int) -> Message:
    error = survival.errors[at]
    return msg(
        "after {time} h  {share}  {error}  {low} to {high}",
        time=Number(survival.times[at], ">8.4g"),
        share=Number(survival.shares[at], ".3f"),
        error="    -" if error is None else Number(error, ".3f"),
        low=Number(survival.bound_low[at], ".3f"),
        high=Number(survival.bound_high[at], ".3f"),
    )


def _by_fit(curve: Mapping[str, Any], row: int) -> Message:
    return msg(
        "by the fit {share}, {low} to {high}",
        share=Number(curve["share"][row], ".3f"),
        low=Number(curve["bound_low"][row], ".3f"),
        high=Number(curve["bound_high"][row], ".3f"),
    )


def _fit_lines(fit: Mapping[str, Any] | None, no_fit: Message | None) -> list[Message]:
    if fit is None:
        return [msg("No Weibull fit: {why}.", why=no_fit or "")]

    def between(name: str) -> Message:
        low, high = fit[name]
        return msg("({low} to {high})", low=Number(low, ".4g"), high=Number(high, ".4g"))

    return [
        msg(
            "Weibull: shape {shape} {shape_bounds}, scale {scale} h {scale_bounds}; one in ten has "
            "failed by {b10} h {b10_bounds}. For the soak that costs least: soak evidence length "
            "--lives.",
            shape=Number(fit["shape"], ".4g"),
            shape_bounds=between("shape_bounds"),
            scale=Number(fit["scale_h"], ".4g"),
            scale_bounds=between("scale_bounds_h"),
            b10=Number(fit["b10_h"], ".4g"),
            b10_bounds=between("b10_bounds_h"),
        ),
        msg("What the fit says of ages that nobody watched is the curve's word alone."),
    ]


def _window(
    watched: Sequence[Life], fit: Weibull | None, age: float, window: float, data: dict[str, Any]
) -> list[Message]:
    try:
        seen = fails_within(watched, age, window)
    except ValueError as fault:
        raise UsageError(msg("--age, --window: {why}", why=told_of(fault))) from None
    figures: dict[str, Any] = {
        "age_h": age,
        "window_h": window,
        "failed": seen.failed,
        "share": seen.share,
        "bounds": (seen.bound_low, seen.bound_high),
    }
    line = msg(
        "A unit that works at {age} h fails within {window} h more in {share} of cases ({low} to "
        "{high}; {failed} did)",
        age=Number(age, "g"),
        window=Number(window, "g"),
        share=Percent(seen.share, 1),
        low=Percent(seen.bound_low, 1),
        high=Percent(seen.bound_high, 1),
        failed=seen.failed,
    )
    by_fit = None
    if fit is not None:
        low, high = fit.bounds(methodcaller("fails_within", age, window))
        figures |= {"by_fit": fit.fails_within(age, window), "bounds_by_fit": (low, high)}
        by_fit = msg(
            "by the fit {share} ({low} to {high})",
            share=Percent(figures["by_fit"], 1),
            low=Percent(low, 1),
            high=Percent(high, 1),
        )
    data["window"] = figures
    told = sentence(joined("; ", [line, by_fit]))
    return [paragraph(told, msg("Hours are hours of running."))]


def _compared(table: LifeTable, data: dict[str, Any]) -> list[Message]:
    if len(table.groups) != 2:
        return []
    (name, one), (other_name, other) = table.groups.items()
    try:
        statistic, chance = log_rank(_lives(one), _lives(other))
    except ValueError as fault:
        return [
            msg("{one} against {other}: {why}.", one=name, other=other_name, why=told_of(fault))
        ]
    data["log_rank"] = {"groups": [name, other_name], "statistic": statistic, "chance": chance}
    return [
        msg(
            "{one} against {other}: log-rank {statistic}; so different by luck in {chance} of "
            "cases.",
            one=name,
            other=other_name,
            statistic=Number(statistic, ".3f"),
            chance=Number(chance, ".2g"),
        )
    ]


def _lives(group: Mapping[str, History]) -> list[Life]:
    return [history.life() for history in group.values()]
