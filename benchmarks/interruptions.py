"""Soaks in real time that are interrupted: is what comes of each what was done to it?

Run: benchmarks/interruptions.py [--at-once N] [--keep FOLDER] [WORD ...]; with words only the rows
whose names hold one of them. Each row (tests/support/interruption_table.py) is a whole soak of a
played unit in processes of its own, several side by side, as they mostly wait. Who is killed,
stopped and continued, mute, full or late at which moment, and what the unit does meanwhile, is
known; grade, reason, losses charged and holes are held to it, holes to 0.6 s. Rows whose truth
hangs on a host that keeps up are marked (quick host). Exit code 1 if a row is wrong.

Needs Linux; without root and /dev/fuse there is no stick, and what needs one is left out.
"""

import itertools
import re
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "support"))
import fuse_kernel
from interrupted_row import by_process
from interrupted_soak import Outcome, Row
from interruption_table import ROWS

AT_ONCE = 6
NEEDS_FUSE = re.compile(r"^(stick|disk) |stick$")


def main(words: Sequence[str]) -> int:
    given = dict(itertools.pairwise(words))
    at_once, kept = given.get("--at-once", AT_ONCE), given.get("--keep", "")
    named = [one for one in words if not one.startswith("--") and one not in (at_once, kept)]
    rows = [row for row in ROWS if not named or any(word in row.name for word in named)]
    left_out = [row for row in rows if fuse_kernel.why_not() and needs_fuse(row)]
    began_s, wrong = time.monotonic(), 0
    with ThreadPoolExecutor(int(at_once)) as threads:
        playing = [threads.submit(by_process, row, kept) for row in rows if row not in left_out]
        for future in playing:
            outcome = future.result()
            wrong += bool(outcome.wrong or outcome.unseen)
            tell(outcome)
    took_s = time.monotonic() - began_s
    print(f"{len(playing)} interruptions in {took_s:.0f} s, {wrong} with something wrong")
    for row in left_out:
        print(f"not played: {row.name}: {fuse_kernel.why_not()}")
    return 1 if wrong else 0


def needs_fuse(row: Row) -> bool:
    return any(NEEDS_FUSE.search(step.what) for step in row.steps)


def tell(outcome: Outcome) -> None:
    """Print what was stated and what came."""
    row = outcome.row
    verdict = "WRONG" if outcome.wrong or outcome.unseen else "right"
    notes = [*(["quick host"] if row.quick else []), *(["the unit was late"] * outcome.slow)]
    beside = f" ({', '.join(notes)})" if notes else ""
    print(f"{verdict:6} {row.name}{beside}", end="")
    print(f" [stated: {' or '.join(row.grades)}; came: {outcome.grade}]")
    for one in (*outcome.wrong, *outcome.unseen):
        print(f"         {one}")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
