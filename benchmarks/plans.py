"""Do sequential plans keep their risks? Units of known truth, followed, stopped, and judged.

Run: benchmarks/plans.py [UNITS]. Each unit's course is drawn start by start, or loss by loss; the
runner's own function says when the stretch ends; the evidence up to there is made up record by
record and judged. Accepted must be as often as the plan's exact risks say, and the bound printed
at acceptance must hold the truth as often as it claims.
"""

import sys
import time
from collections import Counter
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import numpy as np
from scipy.stats import binomtest

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "support"))
from made_up_soak import CYCLE_S, OFF_S, TOOK_S, MadeUpSoak, clean_night, demand

from soak.derive.sequential import follow_hours, follow_starts
from soak.judge.judging import judge_requirement
from soak.judge.planning import hours_plan, starts_plan
from soak.records import Seal, State
from soak.rules import by_plan
from soak.statistics.frozen import frozen

HOUR = 3600.0
STARTS = starts_plan(0.01, 0.10, 0.05, 0.10)
HOURS = hours_plan(20 * HOUR, 4 * HOUR, 0.10, 0.10)
STARTS_TERMS = {"of": "warm starts", "good": 0.01, "bad": 0.10, **frozen(STARTS)}
HOURS_TERMS = {"of": "hours", "good": 20 * HOUR, "bad": 4 * HOUR, **frozen(HOURS)}
BY_STARTS = demand(
    "starts by plan",
    stretch="starts",
    check="power_cycles",
    limit=None,
    confidence=0.95,
    params={"start_limit_s": 50.0, "kinds": ["warm"], "plan": STARTS_TERMS},
)
BY_HOURS = demand(
    "hours by plan",
    "capture",
    None,
    stretch="starts",
    confidence=0.95,
    params={"bad": ["black", "no signal"], "at_least_s": 0.2, "plan": HOURS_TERMS},
)


# A bound hangs on the plan and the count alone: of each it is computed once.
by_plan.highest_share = lru_cache(by_plan.highest_share)
by_plan.shortest_mean = lru_cache(by_plan.shortest_mean)


def main() -> None:
    units = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    chance = np.random.default_rng(20261125)
    print(f"starts: at most {STARTS.longest}; hours: at most {HOURS.longest / HOUR:.1f} h")
    print(
        "truth              units  accepted  95% interval     by the plan   mean length  computed"
    )
    for share in (0.01, 0.03, 0.10, 0.20):
        tell(f"fails {share:.0%} of starts", units, share, starts_night, STARTS, chance, 1.0)
    for mean in (20 * HOUR, 9 * HOUR, 4 * HOUR, 2 * HOUR):
        name = f"one loss in {mean / HOUR:.0f} h"
        tell(name, units, mean, hours_night, HOURS, chance, HOUR)


def tell(name, units, truth, night, plan, chance, per):
    """Judge a population of one truth and print its line."""
    found, lengths, held, began_s = Counter(), [], 0, time.perf_counter()
    for _ in range(units):
        soak, need, length = night(truth, chance)
        finding = judge_requirement(need, [soak])
        found[finding.verdict.value] += 1
        lengths.append(length)
        high = truth if plan is STARTS else HOUR / truth
        held += finding.bound_high is None or finding.bound_high >= high - 1e-12
    accepted, expected = found["met"], plan.outlook(truth)
    mean, computed = np.mean(lengths) / per, expected.expected / per
    low, top = binomtest(accepted, units).proportion_ci(0.95)
    print(
        f"{name:<18} {units:>6}  {accepted / units:>8.4f}  {low:.4f} to {top:.4f}  "
        f"{expected.accepted:>9.4f}     {mean:>8.2f}  {computed:>9.2f}"
        f"   bound held in {held / units:.4f}; undecided {found['not shown']}; "
        f"{time.perf_counter() - began_s:.0f} s",
        flush=True,
    )


def empty(need, lasts_s: float) -> MadeUpSoak:
    """Return a soak of one stretch with power, without records of its own."""
    soak = clean_night(starts=0).demanding(need)
    plan = need.params["plan"]
    stretch = {"name": "starts", "lasts_s": None, "plan": plan, "checks": {need.check: {}}}
    soak = soak.with_header(script={"name": "planned", "stretches": [stretch]})
    soak.state_list = [State(0.0, "switch", "seen"), State(0.0, "capture", "no signal")]
    soak.mark_list, soak.readings, soak.pieces = [], {}, {"starts": [(0.0, lasts_s)]}
    soak.mark(0.0, "stretch begins", "starts")
    soak.ends_s, soak.seal = lasts_s + 1, Seal(lasts_s + 1, "complete")
    return soak


def starts_night(share: float, chance: np.random.Generator):
    """Draw starts until the plan decides, and write down what the bench would have seen."""
    failed: list[bool] = []
    while follow_starts(STARTS, failed).decided == "undecided":
        failed.append(bool(chance.random() < share))
    decided = follow_starts(STARTS, failed)
    soak = empty(BY_STARTS, len(failed) * CYCLE_S)
    for at, bad in enumerate(failed):
        off_s, on_s = at * CYCLE_S, at * CYCLE_S + OFF_S
        told = {"kind": "warm", "number": at + 1}
        soak.mark(off_s, "power", on=False, channel="1", why="")
        soak.mark(on_s, "power", on=True, channel="1", why="")
        soak.mark(on_s, "start", "starts", "power_cycles", off_s=OFF_S, dwell="", **told)
        took = {"seen": not bad, "took_s": None if bad else TOOK_S}
        soak.mark(on_s + (55 if bad else TOOK_S), "start ended", "starts", "power_cycles",
                  **told, **took)  # fmt: skip
        if not bad:
            soak.state_list.append(State(on_s + TOOK_S, "capture", "picture", 1 / 60))
        soak.state_list.append(State(off_s + CYCLE_S + 0.1, "capture", "no signal", 1 / 60))
    return _ended(soak, decided), BY_STARTS, len(failed)


def hours_night(mean: float, chance: np.random.Generator):
    """Draw losses until the plan decides; each lasts 3 s, in which nothing is counted."""
    losses = np.cumsum(chance.exponential(mean, len(HOURS.accept_at) + 1))
    known = [float(t) for t in losses if t <= HOURS.longest]
    decided = follow_hours(HOURS, known, HOURS.longest)
    seen = [t for t in known if t <= decided.at][: decided.failures]
    lasts_s = decided.at + 3.0 * len(seen) + 70.0 + TOOK_S
    soak = empty(BY_HOURS, lasts_s)
    soak.mark(0.0, "power", on=True, channel="1", why="")
    soak.state_list.append(State(TOOK_S, "capture", "picture", 1 / 60))
    for number, t_s in enumerate(seen):
        at_s = TOOK_S + t_s + 3.0 * number
        soak.state_list.append(State(at_s, "capture", "black", 1 / 60))
        soak.state_list.append(State(at_s + 3.0, "capture", "picture", 1 / 60))
    soak.mark(lasts_s, "power", on=False, channel="1", why="")
    return _ended(soak, decided), BY_HOURS, decided.at


def _ended(soak: MadeUpSoak, decided) -> MadeUpSoak:
    lasts_s = soak.pieces["starts"][0][1]
    soak.mark(lasts_s, "stretch ends", "starts", because=f"{decided.decided} by plan")
    return replace(soak)


if __name__ == "__main__":
    main()
