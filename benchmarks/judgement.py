"""Is the grade right? A population of units whose truth is known, judged; then speed by size.

Run: benchmarks/judgement.py [UNITS]. The evidence is made up record by record (no simulation of a
unit, no instrument), so that only the judgement is tried: starts fail by a chance per start,
dropouts come by a rate per hour, and the bench has faults of its own in half of all nights.
"""

import resource
import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "support"))
from made_up_soak import CYCLE_S, HOT_S, OFF_S, STARTS_S, MadeUpSoak, clean_night, demand

from soak.judge.grade import judge
from soak.rules.core.verdict import Verdict

STARTS = 20
DEMANDS = (
    demand("starts", limit=0.0, confidence=0.95, params={"start_limit_s": 50.0, "kinds": ["warm"]}),
    demand(
        "no dropout",
        "capture",
        confidence=0.95,
        blind_allowed=0.1,
        params={"bad": ["black", "no signal", "frozen"], "at_least_s": 0.2},
    ),
)
CHANCES = (0.0, 0.005, 0.01, 0.02, 0.05, 0.1, 0.3)
RATES_PER_H = (0.0, 0.05, 0.1, 0.25, 0.5, 1.0, 3.0)


def main() -> None:
    units = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    speed()  # first, so that the peak of memory is its own
    population(units)


def population(units: int) -> None:
    from scipy.stats import binomtest

    chance = np.random.default_rng(20260105)
    clean = clean_night(starts=STARTS).demanding(*DEMANDS)
    grades: Counter[tuple[float, float, str]] = Counter()
    covered, bounded, blamed = Counter(), Counter(), 0
    began_s = time.perf_counter()
    for _ in range(units):
        p, rate = float(chance.choice(CHANCES)), float(chance.choice(RATES_PER_H))
        if chance.random() < 0.4:
            p, rate = 0.0, 0.0
        faults_of_bench = chance.random() < 0.5
        soak = night(clean, p, rate, faults_of_bench, chance)
        judgement = judge([soak])
        grades[p, rate, judgement.grade] += 1
        blamed += p == rate == 0 and judgement.because == "failed"
        for finding, truth in zip(judgement.findings, (p, rate), strict=True):
            if finding.bound_high is not None and finding.verdict is not Verdict.NOT_SHOWN:
                rule = finding.requirement.rule
                bounded[rule] += 1
                covered[rule] += truth <= finding.bound_high + 1e-12
    took_s = time.perf_counter() - began_s
    print(f"{units} units in {took_s:.0f} s, half of the nights with bench faults\n")
    print_grades(grades)
    good = sum(n for (p, r, _), n in grades.items() if p == r == 0)
    print(f"good units charged with a fault of the bench: {blamed} of {good}")
    for rule, number in bounded.items():
        share = binomtest(covered[rule], number).proportion_ci(0.95)
        print(
            f"95% upper bound of {rule!r}: holds the truth in {covered[rule] / number:.4f} of "
            f"{number} ({share.low:.4f} to {share.high:.4f})"
        )


def night(
    clean: MadeUpSoak, p: float, rate_per_h: float, bench: bool, chance: np.random.Generator
) -> MadeUpSoak:
    """Return a night of a unit of known truth."""
    soak = MadeUpSoak(
        clean.header,
        list(clean.state_list),
        list(clean.mark_list),
        clean.session_list,
        {},
        clean.pieces,
        clean.seal,
        clean.ends_s,
    )
    for number in np.flatnonzero(chance.random(STARTS) < p):
        fail_start(soak, int(number))
    quiet_from_s = STARTS_S + 120
    for _ in range(chance.poisson(rate_per_h * HOT_S / 3600)):
        at_s = float(chance.uniform(quiet_from_s, STARTS_S + HOT_S - 60))
        soak.spell("capture", at_s, at_s + float(chance.uniform(0.3, 6)), "no signal")
    if bench:
        for _ in range(int(chance.integers(1, 4))):
            at_s = float(chance.uniform(quiet_from_s, STARTS_S + HOT_S - 400))
            soak.spell("capture", at_s, at_s + float(chance.uniform(1, 200)), "blind")
    return soak


def fail_start(soak: MadeUpSoak, number: int) -> None:
    """Let one start show no picture."""
    on_s = number * CYCLE_S + OFF_S
    until_s = (number + 1) * CYCLE_S
    soak.state_list = [
        s for s in soak.state_list if s.source != "capture" or not on_s < s.t_s <= until_s
    ]
    for at, mark in enumerate(soak.mark_list):
        if mark.what == "start ended" and mark.detail["number"] == number + 1:
            detail = {**mark.detail, "seen": False, "took_s": None}
            soak.mark_list[at] = type(mark)(
                until_s - 1, mark.what, mark.stretch, mark.check, detail
            )


def print_grades(grades: Counter[tuple[float, float, str]]) -> None:
    from scipy.stats import binomtest

    print("chance/start  rate/h  units  ready   95% interval     passes by the formula")
    for p in CHANCES:
        for rate in RATES_PER_H:
            counts = {g: n for (a, b, g), n in grades.items() if (a, b) == (p, rate)}
            number, ready = sum(counts.values()), counts.get("ready", 0)
            if not number:
                continue
            low, high = binomtest(ready, number).proportion_ci(0.95)
            formula = (1 - p) ** STARTS * np.exp(-rate * (HOT_S - 180) / 3600)
            print(
                f"{p:>12.3f}  {rate:>6.2f}  {number:>5}  {ready / number:>5.3f}   "
                f"{low:.3f} to {high:.3f}   {formula:.3f}"
            )


def speed() -> None:
    print("\nreadings   judged in s   s per million   memory peak MB")
    for size in (10**5, 10**6, 10**7):
        soak = clean_night(starts=STARTS)
        t_s = np.linspace(STARTS_S, STARTS_S + HOT_S, size // 2)
        soak.readings["probe.outside"] = (t_s, np.full(size // 2, 40.0))
        soak.readings["probe.ambient"] = (t_s, np.full(size // 2, 22.0))
        limits = demand("at most", "probe.outside", 60.0, unit="degC", guarded=True)
        rise = demand("rise at most", "probe.outside", 35.0, unit="K", guarded=True)
        header = soak.demanding(*DEMANDS, limits, rise)
        began_s = time.perf_counter()
        judge([header])
        took_s = time.perf_counter() - began_s
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        print(f"{size:>8}   {took_s:>11.3f}   {took_s / size * 1e6:>13.3f}   {peak:>14.0f}")


if __name__ == "__main__":
    main()
