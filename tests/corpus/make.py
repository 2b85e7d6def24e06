"""Make the stored journals anew; run by hand, seldom.

`python tests/corpus/make.py FAMILY ...` makes those families, without a name all of them. What is
expected is not touched: `freeze.py --accept` writes that.
"""

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

from stored import write

HERE = Path(__file__).parent
ROOT = HERE.parents[1]


def from_tests(family: str, *folders: str) -> None:
    """Keep what tests judge."""
    with tempfile.TemporaryDirectory() as place:
        file = Path(place) / "found.json"
        paths = os.pathsep.join([str(HERE), str(HERE.parent / "support")])
        subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "-p", "harvest", *folders],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": paths, "HARVEST": str(file)},
            check=True,
        )
        found = json.loads(file.read_text(encoding="utf-8"))
    put(
        family,
        {
            f"{test}/{n}" if n else test: job
            for test, jobs in found.items()
            for n, job in enumerate(jobs)
        },
    )


def put(family, jobs) -> None:
    """Write a family; journals that are the same are stored once."""
    names: dict[tuple[str, ...], str] = {}
    journals, told = {}, []
    for name, (soaks, script) in jobs.items():
        of = []
        for number, lines in enumerate(map(tuple, soaks)):
            if lines not in names:
                names[lines] = f"{name}#{number}" if number else name
                journals[names[lines]] = lines
            of.append(names[lines])
        told.append({"job": name, "of": of, "script": script})
    size = write(family, journals, told)
    sys.stdout.write(f"{family}: {len(journals)} journals, {len(told)} jobs, {size / 1e3:.0f} kB\n")


FAMILIES: Mapping[str, Callable[[], None]] = {
    "made-up": lambda: from_tests("made-up", "tests/judge"),
}

if __name__ == "__main__":
    for wanted in sys.argv[1:] or FAMILIES:
        FAMILIES[wanted]()
