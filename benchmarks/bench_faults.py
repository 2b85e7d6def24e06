"""Is a fault of the bench ever charged to the unit? Good units, each night with up to four of them.

Run: benchmarks/bench_faults.py [SCENES]. Kinds, times and lengths are drawn; the evidence is made
up record by record as the bench would have recorded it. No unit has any fault of its own.
"""

import sys
import time
from collections import Counter
from pathlib import Path

import numpy as np
from scipy.stats import binomtest

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "support"))
from made_up_soak import STARTS_S, clean_night, demand
from troubled_nights import TROUBLES, copied

from soak.judge.grade import judge

PROBE = {"needs": frozenset({"probe"}), "check": "spots", "unit": "degC"}
PICTURE = {"bad": ["black", "no signal", "frozen", "stalled"], "at_least_s": 0.2}
DEMANDS = (
    demand("starts", limit=0.0, confidence=0.95, params={"start_limit_s": 50.0, "kinds": ["warm"]}),
    demand("no dropout", "capture", confidence=0.95, params=PICTURE),
    demand("no restart", "capture", confidence=0.95, params=PICTURE),
    demand("dropouts per hour", "capture", 1.0, confidence=0.95, params=PICTURE),
    demand("failure free", "", 7200.0, params=PICTURE),
    demand("at most", "probe.outside", 60.0, **PROBE),
    demand("rise at most", "probe.outside", 35.0, **{**PROBE, "unit": "K"}),
    demand("no wrong data", "transfer.stick.damaged", check="transfer", unit="B"),
    demand("stick stayed", "stick", check="transfer"),
)


def main() -> None:
    scenes = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    chance = np.random.default_rng(20261125)
    clean = clean_night().demanding(*DEMANDS)
    grades, kinds, charged, began_s = Counter(), Counter(), Counter(), time.perf_counter()
    for _ in range(scenes):
        soak = copied(clean)
        chosen = chance.choice(len(TROUBLES), int(chance.integers(1, 5)), replace=False)
        places = chance.permutation(4)[: len(chosen)]
        for which, place in zip(chosen, places, strict=True):
            from_s = STARTS_S + 200 + place * 3500 + float(chance.uniform(0, 1500))
            TROUBLES[which](soak, from_s, chance)
            kinds[TROUBLES[which].__name__] += 1
        judgement = judge([soak])
        grades[judgement.grade] += 1
        if judgement.because == "failed":
            charged[tuple(sorted(TROUBLES[which].__name__ for which in chosen))] += 1
            print("charged:", judgement.reason)
    bad = sum(charged.values())
    low, high = binomtest(bad, scenes).proportion_ci(0.95)
    print(f"{scenes} scenes in {time.perf_counter() - began_s:.0f} s: {dict(grades)}")
    print(f"drawn: {dict(kinds)}")
    print(
        f"charged to the unit: {bad} of {scenes} (95% interval {low:.5f} to {high:.5f}) {charged}"
    )


if __name__ == "__main__":
    main()
