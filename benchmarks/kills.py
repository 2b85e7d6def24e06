"""Soaks killed at random and resumed, side by side: is the grade what the unit is?

Run: benchmarks/kills.py [SOAKS] [--at-once N] [--from NUMBER] [--keep FOLDER]. Each soak is of a
played unit in real time, killed once or twice at a random moment (runner, runner and guard and all
instruments' processes, its process group), and resumed after up to 4 s until it is over; drawn by
its number in tests/support/random_kills.py. 150 soaks are about 200 kills. Wrong are: a grade that
is not the unit's; anything charged to a good one; a gap that is not as long as it was; and an
*incomplete* but for demands that hold for one unbroken run, which are listed. Exit code 1 if one is
wrong. Linux only.
"""

import itertools
import sys
import time
from collections import Counter
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "support"))
from interrupted_row import by_process
from random_kills import STARTS_OVER, drawn

AT_ONCE, SOAKS = 8, 150


def main(words: list[str]) -> int:
    given = dict(itertools.pairwise(words))
    number = int(words[0]) if words and words[0].isdigit() else SOAKS
    first = int(given.get("--from", 0))
    rows = [drawn(first + one) for one in range(number)]
    kills = sum(step.what.startswith("kill") for row in rows for step in row.steps)
    began_s, wrong, over = time.monotonic(), 0, Counter[str]()
    with ThreadPoolExecutor(int(given.get("--at-once", AT_ONCE))) as threads:
        kept = given.get("--keep", "")
        for outcome in threads.map(lambda row: by_process(row, kept), rows):
            faults = [*outcome.wrong]
            if outcome.grade == "incomplete":
                over.update(outcome.not_shown)
                lacking = sorted(set(outcome.not_shown) - set(STARTS_OVER))
                faults += [f"incomplete: {', '.join(lacking) or outcome.reason}"] * bool(lacking)
            wrong += bool(faults)
            for fault in faults:
                steps = ", ".join(f"{s.what} {s.after}+{s.at_s:.1f}" for s in outcome.row.steps)
                print(f"WRONG {outcome.row.name} ({steps}): {fault}", flush=True)
    print(f"{number} soaks, {kills} kills, in {time.monotonic() - began_s:.0f} s; {wrong} wrong")
    for rule, count in over.most_common():
        print(f"not shown after a resume: {rule} ({count})")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
