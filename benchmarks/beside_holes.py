"""Is a loss beside a hole given to whom it belongs? Losses of units, and holes of every length.

Run: benchmarks/beside_holes.py [NIGHTS] [--night NUMBER]. Each night is drawn from its number
(tests/support/holed_nights.py says how, and what is true of it), written into a journal in memory
and judged. Wrong are: a good unit that is charged with anything; a ready with a forbidden loss that
was seen and that no hole can have made; a ready with a loss that was seen and is listed nowhere.
Beside that stands, as a figure, how many good units came out ready. With a number, that night is
told. Exit code 1 if one is wrong.
"""

import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

from scipy.stats import binomtest

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "support"))
from holed_nights import Night, Outcome, draw, judged

AT_ONCE = 2
SHOWN = 3
"""Of each kind of wrong so many nights are named."""
MOST_TOLD = 8
"""Of a night with loss after loss so many are told."""


def main() -> int:
    if "--night" in sys.argv:
        return tell(int(sys.argv[-1]))
    number = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    began_s, wrong, examples = time.perf_counter(), Counter(), {}
    grades: Counter[tuple[str, str]] = Counter()
    with ProcessPoolExecutor(AT_ONCE) as pool:
        for kind, grade, fault, at in pool.map(_one, range(number), chunksize=25):
            grades[kind, grade] += 1
            if fault:
                wrong[fault] += 1
                examples.setdefault(fault, []).append(at)
    print(f"{number} nights in {time.perf_counter() - began_s:.0f} s")
    for (kind, grade), count in sorted(grades.items()):
        print(f"{kind:14} {grade:24} {count}")
    good = sum(count for (kind, _), count in grades.items() if kind == "good unit")
    charged = sum(count for fault, count in wrong.items() if fault.startswith("charged"))
    low, high = binomtest(charged, good).proportion_ci(0.95)
    print(f"charged to a good unit: {charged} of {good} (95% interval {low:.5f} to {high:.5f})")
    print(f"ready, and a loss was seen: {wrong_of(wrong, 'ready, and a loss was seen')}")
    print(f"ready, and a loss is listed nowhere: {wrong_of(wrong, 'ready, and a loss is listed')}")
    for fault, count in wrong.most_common():
        print(f"{count:5} {fault} (nights {', '.join(map(str, examples[fault][:SHOWN]))}, ...)")
    return 1 if wrong else 0


def wrong_of(wrong: Counter[str], begins: str) -> int:
    return sum(count for fault, count in wrong.items() if fault.startswith(begins))


def _one(number: int) -> tuple[str, str, str, int]:
    outcome = judged(number)
    return kind_of(outcome.night), outcome.judgement.grade, in_short(outcome), number


def kind_of(night: Night) -> str:
    if not night.losses:
        return "good unit"
    return "loss seen" if night.seen() else "loss in doubt"


def in_short(outcome: Outcome) -> str:
    """Return what is wrong, with the kinds of the holes and losses that matter."""
    if not outcome.wrong:
        return ""
    night = outcome.night
    if not night.losses:
        kinds = sorted({one.kind for one in night.holes if one.nonsense} or {"no nonsense"})
        return f"charged to a good unit beside {', '.join(kinds)}"
    if outcome.wrong.startswith("ready, and a loss was seen"):
        return f"ready, and a loss was seen: {beside(night)}"
    return outcome.wrong


def beside(night: Night) -> str:
    """Say by which kind of hole the first loss that was seen stands."""
    loss = night.seen()[0]
    near = min(
        night.holes, key=lambda one: max(one.from_s - loss.to_s, loss.from_s - one.over_s, 0.0)
    )
    where = "over" if loss.from_s < near.from_s and loss.to_s > near.over_s else "after"
    where = "before" if loss.to_s <= near.over_s and loss.from_s < near.from_s else where
    what = "stall" if loss.stall else loss.source
    return f"{what} {where} '{near.kind}'"


def tell(number: int) -> int:
    """Print what was true of one night, and what came of it."""
    night, outcome = draw(number), judged(number)
    for one in night.holes[:MOST_TOLD]:
        print(f"{one.from_s:9.2f} to {one.to_s:9.2f} s  hole of {one.source or 'all'}: {one.kind}")
        for from_s, to_s in one.nonsense:
            print(f"{from_s:9.2f} to {to_s:9.2f} s  ... which made a loss")
    for loss in night.losses[:MOST_TOLD]:
        seen = ", ".join(f"{a:.2f} to {b:.2f}" for a, b in night.visible(loss)) or "nothing"
        what = "stall" if loss.stall else loss.look
        print(f"{loss.from_s:9.2f} to {loss.to_s:9.2f} s  {loss.source}: {what}; seen: {seen}")
    print(f"{kind_of(night)}: {outcome.judgement.grade}: {outcome.judgement.reason}")
    for finding in outcome.judgement.findings:
        print(f"  {finding.verdict.value}: {finding.requirement.rule}: {finding.because}")
    print(outcome.wrong or "right")
    return 1 if outcome.wrong else 0


if __name__ == "__main__":
    sys.exit(main())
