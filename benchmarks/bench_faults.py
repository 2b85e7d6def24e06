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
from made_up_soak import STARTS_S, MadeUpSoak, clean_night, demand

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
        chosen = chance.choice(len(KINDS), int(chance.integers(1, 5)), replace=False)
        places = chance.permutation(4)[: len(chosen)]
        for which, place in zip(chosen, places, strict=True):
            from_s = STARTS_S + 200 + place * 3500 + float(chance.uniform(0, 1500))
            KINDS[which](soak, from_s, chance)
            kinds[KINDS[which].__name__] += 1
        judgement = judge([soak])
        grades[judgement.grade] += 1
        if judgement.because == "failed":
            charged[tuple(sorted(KINDS[which].__name__ for which in chosen))] += 1
            print("charged:", judgement.reason)
    bad = sum(charged.values())
    low, high = binomtest(bad, scenes).proportion_ci(0.95)
    print(f"{scenes} scenes in {time.perf_counter() - began_s:.0f} s: {dict(grades)}")
    print(f"drawn: {dict(kinds)}")
    print(
        f"charged to the unit: {bad} of {scenes} (95% interval {low:.5f} to {high:.5f}) {charged}"
    )


def copied(clean: MadeUpSoak) -> MadeUpSoak:
    return MadeUpSoak(
        clean.header,
        list(clean.state_list),
        list(clean.mark_list),
        clean.session_list,
        dict(clean.readings),
        clean.pieces,
        clean.seal,
        clean.ends_s,
    )


def capture_blind(soak, from_s, chance):
    """Let the capture see nothing for a while."""
    soak.spell("capture", from_s, from_s + chance.uniform(1, 1500), "blind")


def card_gives_way(soak, from_s, chance):
    """Let a failing card show nonsense before it goes."""
    gone_s = from_s + chance.uniform(0.3, 50)
    soak.spell("capture", from_s, gone_s + chance.uniform(5, 600), "blind")
    look = str(chance.choice(["stalled", "black", "no signal"]))
    soak.spell("capture", from_s, gone_s, look)


def card_comes_back(soak, from_s, chance):
    """Let a card that was opened again show nothing at first."""
    seen_s = from_s + chance.uniform(5, 600)
    black_s = seen_s + chance.uniform(0.3, 8)
    soak.spell("capture", from_s, black_s, "blind")
    soak.spell("capture", seen_s, black_s, "black")


def that_was_me(soak, from_s, chance):
    """Let the operator move the cable, and say so."""
    to_s = from_s + chance.uniform(0.3, 30)
    soak.spell("capture", from_s, to_s, "no signal")
    told = {"from_s": from_s - 2, "to_s": to_s + 2, "was_me": True, "text": "my cable", "by": "KY"}
    soak.mark(to_s + 5, "note", **told)


def host_slept(soak, from_s, chance):
    """Let the computer sleep; what it sees on waking is old."""
    for_s = float(chance.uniform(20, 900))
    soak.spell("capture", from_s, from_s + for_s, str(chance.choice(["stalled", "no signal"])))
    soak.mark(from_s + for_s, "host slept", for_s=for_s)


def switch_deaf(soak, from_s, chance):
    """Let the relay's board not answer; whether there is power nobody knows."""
    to_s = from_s + chance.uniform(5, 300)
    soak.mark(from_s, "power unanswered", on=True, channel="1", why="")
    soak.spell("capture", from_s + 0.5, to_s, "no signal")
    soak.mark(to_s, "power", on=True, channel="1", why="")


def relay_stays_open(soak, from_s, chance):
    """Let the relay answer and stay open from one on to the end; no meter is at the inlet."""
    on_s = from_s + float(chance.uniform(5, 60))
    soak.mark(from_s, "power", on=False, channel="1", why="")
    soak.mark(on_s, "power", on=True, channel="1", why="")
    soak.spell("capture", from_s + 0.1, soak.ends_s, "no signal")
    soak.spell("stick", from_s + 0.1, soak.ends_s, "gone")
    t_s, value = soak.readings["probe.outside"]
    left = np.exp(-np.maximum(t_s - from_s, 0.0) / 600.0)
    torn = np.abs(value) > 150.0
    soak.readings["probe.outside"] = (t_s, np.where(torn, value, 21.0 + (value - 21.0) * left))


def probe_torn(soak, from_s, chance):
    """Break a probe's wire: it reads anything."""
    t_s, value = soak.readings["probe.outside"]
    to_s = from_s + chance.uniform(10, 1500)
    broken = (t_s >= from_s) & (t_s < to_s)
    wrong = float(chance.choice([-200.0, 850.0, 2300.0]))
    soak.readings["probe.outside"] = (t_s, np.where(broken, wrong, value))


def stick_lost_by_the_bench(soak, from_s, chance):
    """Let the bench's own reader of the stick fail; the chunk at its edge is damaged."""
    to_s = from_s + chance.uniform(5, 900)
    soak.spell("stick", from_s, to_s, "blind")
    t_s, value = soak.readings["transfer.stick.damaged"]
    near = np.argmin(np.abs(t_s - from_s))
    if abs(t_s[near] - from_s) <= 1:
        soak.readings["transfer.stick.damaged"] = (t_s, np.where(t_s == t_s[near], 512.0, value))


KINDS = (
    capture_blind,
    card_gives_way,
    card_comes_back,
    that_was_me,
    host_slept,
    switch_deaf,
    relay_stays_open,
    probe_torn,
    stick_lost_by_the_bench,
)

if __name__ == "__main__":
    main()
