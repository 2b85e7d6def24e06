"""Do figures in hours hold when faults come in bouts? Units of known truth, soaked and judged.

Run: benchmarks/bouts.py [FIRST [LAST [bounds|gone|plan]]]: a range of seeds, one unit of each kind
a seed. Bouts begin
after exponential pauses; their sizes are geometric, or all the same; the gaps within them are
exponential and a twentieth of the pause on the mean. Each course is written down as the evidence
of a soak and judged. Beside what the program finds stands what it would find if each fault counted
by itself, as it did before.
"""

import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "support"))
from bouts_judged import BAD_S, GOOD_S, PLAN, RATIO, bounds_of, gone_of, plan_of

SIZES = ((1, False), (2, False), (5, False), (10, False), (2, True), (5, True), (10, True))
SEEN = (3.0, 6.0, 10.0, 20.0)
"""Soaks so long that so many bouts are to be expected."""


def main() -> None:
    first = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    last = int(sys.argv[2]) if len(sys.argv) > 2 else 400
    parts = {"bounds": tell_bounds, "gone": tell_gone, "plan": tell_plan}
    seeds, began_s = range(first, last + 1), time.perf_counter()
    print(f"seeds {first} to {last}; shares with 95 % intervals (Clopper-Pearson)")
    for name in sys.argv[3:] or parts:
        parts[name](seeds)
    print(f"\n{time.perf_counter() - began_s:.0f} s")


def tell_bounds(seeds: range) -> None:
    """Print the levels of upper bounds."""
    print("\n95 % upper bounds: soaks without a wrong one")
    print("| bouts of | expected | faults counted | by bouts | with a bound | bound / truth |")
    print("|---|---|---|---|---|---|")
    for size, same in SIZES:
        for bouts in SEEN:
            one = bounds_of(size, same, bouts, seeds)
            middle = f"{np.median(one.times):.2f}" if one.times else "–"
            print(f"| {named(size, same)} | {bouts:g} | {one.before} | {one.held} | {one.printed} "
                  f"| {middle} |", flush=True)  # fmt: skip


def tell_gone(seeds: range) -> None:
    """Print how often a fault that nobody mended is gone."""
    print("\nFault gone at 5 %, nothing repaired: intakes after which it comes out")
    print("| bouts of | expected | faults counted | by bouts | mean chance | quiet asked / pause |")
    print("|---|---|---|---|---|---|")
    for size, same in SIZES:
        for bouts in (1.0, 2.0, *SEEN):
            one = gone_of(size, same, bouts, seeds)
            print(
                f"| {named(size, same)} | {bouts:g} | {one.before} | {one.now} | {one.chance:.3f} "
                f"| {np.median(one.asked):.1f} |",
                flush=True,
            )


def tell_plan(seeds: range) -> None:
    """Print what an hours plan does."""
    risk = PLAN.outlook(BAD_S).accepted
    turned = 1 - PLAN.outlook(GOOD_S).accepted
    print(f"\nHours plan: bad unit accepted (stated {risk:.3f}), good turned away ({turned:.3f})")
    print("| bouts of | bad, faults counted | bad, by bouts | good, gaps 1/20 | good, 1/1000 |")
    print("|---|---|---|---|---|")
    for size, same in SIZES:
        before, bad, _ = plan_of(size, same, BAD_S, RATIO, seeds)
        *_, wide = plan_of(size, same, GOOD_S, RATIO, seeds)
        *_, narrow = plan_of(size, same, GOOD_S, 1000.0, seeds)
        print(f"| {named(size, same)} | {before} | {bad} | {wide} | {narrow} |", flush=True)


def named(size: float, same: bool) -> str:
    """Say how large bouts are."""
    return f"{size} each" if same else f"{size} on the mean"


if __name__ == "__main__":
    main()
