"""All hostile words and files through every verb, not only the share that the tests try.

`.venv/bin/python benchmarks/hostile_verbs.py [VERB ...]`, a verb as it is typed, `"unit add"`. It
tells what went wrong, and per verb how many were tried and how long that took.
"""

import sys
import tempfile
import time
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1] / "tests" / "support")]


def main() -> int:
    from hostile_bench import HostileBench
    from hostile_verbs import cases, verbs

    wanted = sys.argv[1:]
    tried = wrong = 0
    with (
        tempfile.TemporaryDirectory(prefix="soak-hostile-") as folder,
        HostileBench(Path(folder)) as bench,
    ):
        for verb in verbs():
            if wanted and verb.name not in wanted:
                continue
            began_s = time.monotonic()
            all_of_it = cases(verb, bench.files)
            for case in all_of_it:
                found = bench.wrongs(case.words)
                if found:
                    wrong += 1
                    print(f"{verb.name}: {case.what}: {found}")
            tried += len(all_of_it)
            print(f"{verb.name:<20}{len(all_of_it):>6}{time.monotonic() - began_s:>8.1f} s")
    print(f"{tried} tried, {wrong} went wrong")
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main())
