"""What the lives of a bench's own units say: a table of ages at failure, read and told."""

import csv
import json
from collections import defaultdict
from pathlib import Path
from typing import Any

from soak.errors import UsageError
from soak.judge.explain.life import Survival, fit_weibull, kaplan_meier, log_rank
from soak.judge.explain.recurrence import Recurrence, mean_cumulative

_COLUMNS = ("unit", "hours", "failed")
_MOST_LINES = 12
"""Longer curves are told in so many lines; the data hold them all."""

History = tuple[list[float], float]
"""Ages at failure, and up to which age a unit was followed."""


def lives(file: str, *, as_json: bool) -> str:
    """Tell survival, a Weibull fit, repeated failures and, by a column `group`, whether two differ.

    Raises
    ------
    UsageError
        If the table cannot be read, or nothing in it failed.
    """
    groups = _read(Path(file))
    everyone = {unit: told for group in groups.values() for unit, told in group.items()}
    failed, working = _firsts(everyone)
    try:
        survival, repeated = kaplan_meier(failed, working), mean_cumulative(everyone)
    except ValueError as fault:
        raise UsageError(f"{file}: {fault}") from None
    data: dict[str, Any] = {
        "units": len(everyone),
        "failed": len(failed),
        "survival": {"hours": list(survival.times), "share": list(survival.shares)},
        "median_h": survival.median,
        "failures_a_unit": {"hours": list(repeated.times), "mean": list(repeated.means)},
        "weibull": None,
    }
    lines = [f"{len(failed)} of {len(everyone)} units failed."]
    lines += _curves(survival, repeated)
    try:
        fit = fit_weibull(failed, [(age, 1) for age in working])
        data["weibull"] = {"shape": fit.shape, "scale_h": fit.scale, "b10_h": fit.life(0.1)}
        lines.append(
            f"Weibull: shape {fit.shape:.3g}, scale {fit.scale:.4g} h; one in ten has failed by "
            f"{fit.life(0.1):.4g} h. For soak evidence length --shape --scale."
        )
    except ValueError as fault:
        data["no_fit"] = str(fault)
        lines.append(f"No Weibull fit: {fault}.")
    lines += _compared(groups, data)
    return json.dumps(data, indent=2, allow_nan=False) if as_json else "\n".join(lines)


def _curves(survival: Survival, repeated: Recurrence) -> list[str]:
    median = "is not reached" if survival.median is None else f"is {survival.median:.4g} h"
    step = max(1, -(-len(survival.times) // _MOST_LINES))
    told = list(zip(survival.times, survival.shares, strict=True))[step - 1 :: step]
    return [
        f"Half-life (Kaplan-Meier) {median}. Share that still works:",
        *(f"  after {time:>8.4g} h  {share:.3f}" for time, share in told),
        f"Failures a unit by {repeated.times[-1]:.4g} h, repeated ones counted (mean cumulative "
        f"function): {repeated.means[-1]:.3g}.",
    ]


def _compared(groups: dict[str, dict[str, History]], data: dict[str, Any]) -> list[str]:
    if len(groups) != 2:
        return []
    (name, one), (other_name, other) = groups.items()
    try:
        statistic, chance = log_rank(*_firsts(one), *_firsts(other))
    except ValueError as fault:
        return [f"{name} against {other_name}: {fault}."]
    data["log_rank"] = {"groups": [name, other_name], "statistic": statistic, "chance": chance}
    return [
        f"{name} against {other_name}: log-rank {statistic:.3f}; so different by luck in "
        f"{chance:.2g} of cases."
    ]


def _firsts(units: dict[str, History]) -> tuple[list[float], list[float]]:
    """Return ages at first failure, and ages of those that never failed."""
    failed = [min(failures) for failures, _ in units.values() if failures]
    return failed, [end for failures, end in units.values() if not failures]


def _read(path: Path) -> dict[str, dict[str, History]]:
    """Return the histories by group and unit."""
    try:
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
    except OSError as fault:
        raise UsageError(f"{path}: cannot be read: {fault.strerror}") from None
    except UnicodeDecodeError:
        raise UsageError(f"{path}: is not UTF-8 text; save it as UTF-8") from None
    missing = [name for name in _COLUMNS if not rows or name not in rows[0]]
    if missing:
        what = f"has no column {missing[0]}; it needs {', '.join(_COLUMNS)} and may have group"
        raise UsageError(f"{path}: {what}")
    groups: dict[str, dict[str, History]] = defaultdict(dict)
    for number, row in enumerate(rows, 2):
        hours, failed = _row(path, number, row)
        units = groups[(row.get("group") or "").strip()]
        failures, end = units.get(row["unit"], ([], 0.0))
        units[row["unit"]] = ([*failures, hours] if failed else failures, max(end, hours))
    return groups


def _row(path: Path, number: int, row: dict[str, str]) -> tuple[float, bool]:
    try:
        hours = float(row["hours"])
    except (TypeError, ValueError):
        raise UsageError(f"{path}: line {number}: hours {row['hours']!r} is no number") from None
    if row["failed"] not in ("0", "1"):
        what = f"failed is {row['failed']!r}; write 1 where it failed, 0 where it still worked"
        raise UsageError(f"{path}: line {number}: {what}")
    return hours, row["failed"] == "1"
