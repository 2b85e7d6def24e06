"""Soaks in real time that are interrupted: is what comes of each what was done to it?

Run: benchmarks/interruptions.py [--at-once N] [--keep FOLDER] [WORD ...]; with words only the rows
whose names hold one of them. Each row (tests/support/interruptions.py) is a whole soak of a played
unit in processes of its own, several side by side, as they mostly wait. Who is killed, stopped and
continued, mute, full or late at which moment, and what the unit does meanwhile, is known; grade,
reason, losses charged and holes are held to it, holes to 0.6 s. Exit code 1 if a row is wrong.

Needs Linux; without root and /dev/fuse there is no stick, and what needs one is left out.
"""

import itertools
import json
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "support"))
import fuse_kernel
from interrupted_soak import Outcome, Row
from interrupted_truth import played
from interruptions import ROWS

AT_ONCE = 6
TRIES = 3
"""A row whose unit this machine could not play in time is played again."""
NEEDS_FUSE = re.compile(r"^(stick|disk) |stick$")


def main(words: Sequence[str]) -> int:
    given = dict(itertools.pairwise(words))
    if "--row" in words:
        return play_one(given["--row"], Path(given["--keep"]) if "--keep" in given else None)
    at_once, kept = int(given.get("--at-once", AT_ONCE)), given.get("--keep", "")
    named = [one for one in words if not one.startswith("--")]
    named = [one for one in named if one not in (given.get("--at-once"), given.get("--keep"))]
    rows = [row for row in ROWS if not named or any(word in row.name for word in named)]
    left_out = [row for row in rows if fuse_kernel.why_not() and needs_fuse(row)]
    began_s, wrong = time.monotonic(), 0
    with ThreadPoolExecutor(at_once) as threads:
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


def by_process(row: Row, kept: str = "") -> Outcome:
    """Play a row in a process of its own: its unit must not wait for another row's."""
    keep = ["--keep", kept] if kept else []
    command = [sys.executable, __file__, "--row", row.name, *keep]
    for _ in range(TRIES):
        process = subprocess.run(command, capture_output=True, text=True)
        try:
            outcome = Outcome(row, **json.loads(process.stdout.splitlines()[-1]))
        except (IndexError, ValueError):
            return Outcome(row, [f"it could not be played: {process.stderr[-2000:]}"])
        if not (outcome.slow and (outcome.wrong or outcome.unseen)):
            break
    return outcome


def play_one(name: str, kept: Path | None) -> int:
    (row,) = (row for row in ROWS if row.name == name)
    with tempfile.TemporaryDirectory() as scratch:
        folder = (kept or Path(scratch)) / re.sub(r"\W+", "-", name)
        shutil.rmtree(folder, ignore_errors=True)  # of the try before
        outcome = played(row, folder)
    told = {key: value for key, value in vars(outcome).items() if key != "row"}
    print(json.dumps(told))
    return 1 if outcome.wrong else 0


def tell(outcome: Outcome) -> None:
    """Print what was stated and what came."""
    row = outcome.row
    verdict = "WRONG" if outcome.wrong or outcome.unseen else "right"
    print(f"{verdict:6} {row.name}{' (the unit was late)' if outcome.slow else ''}", end="")
    print(f" [stated: {' or '.join(row.grades)}; came: {outcome.grade}]")
    for one in (*outcome.wrong, *outcome.unseen):
        print(f"         {one}")
    sys.stdout.flush()


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
