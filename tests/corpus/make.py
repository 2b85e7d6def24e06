"""Make the stored journals anew; run by hand, seldom.

`python tests/corpus/make.py FAMILY ...` makes those families, without a name all of them. What is
expected is not touched: `freeze.py --accept` writes that. `make.py --convert` writes all journals
anew as `convert.py` tells them.
"""

import json
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import edges
import simulated
import spoilt
from stored import families, write, written_anew

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
PTYS = ("tests/cli/test_ctrl_c.py", "tests/cli/test_prompts.py", "tests/run/test_resume.py")
BOUTS = ("tests/rules/test_gone.py", "tests/rules/test_hourly.py", "tests/judge/test_bouts.py")
PEOPLE = ("tests/rules/test_judged_by_hand.py", "tests/rules/test_by_eye_rules.py")
GARBLED = ("guard_trips_on_garbage", "probe_garbles")
NETWORK = ("network_drops_when_hot", "network_falls_back")
DEAD = ("dies_at_a_start", "open_relay")
FOLDERS = re.compile(r"(?<![\w.])(?:/|tmp/)(?:[\w.-]+/)+")
BOOT = re.compile(r'("boot_id":")[^"]+')


def from_tests(family: str, *folders: str) -> None:
    """Keep what tests judge."""
    with tempfile.TemporaryDirectory() as place:
        file = Path(place) / "found.json"
        paths = os.pathsep.join(map(str, [ROOT, HERE, HERE.parent / "support"]))
        subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "-p", "harvest", *folders],
            cwd=ROOT,
            env={**os.environ, "PYTHONPATH": paths, "HARVEST": str(file)},
            check=False,  # a test that fails leaves its journal all the same
        )
        found = json.loads(file.read_text(encoding="utf-8"))
    named = (
        (f"{test}/{number}" if number else test, job)
        for test, of in found.items()
        for number, job in enumerate(of)
    )
    put(family, named)


def put(family: str, jobs: Iterable[tuple[str, tuple[list[list[str]], Any]]]) -> None:
    """Write a family; what is the same is stored once."""
    names: dict[tuple[str, ...], str] = {}
    told: dict[str, dict[str, Any]] = {}
    for name, (soaks, script) in jobs:
        soaks = [tuple(map(_anywhere, lines)) for lines in soaks]
        for number, lines in enumerate(soaks):
            names.setdefault(lines, f"{name}#{number}" if number else name)
        job = {"of": [names[lines] for lines in soaks], "script": script}
        if job not in told.values():
            told[name] = job
    journals = {name: lines for lines, name in names.items()}
    lines_of = [{"job": name, **job} for name, job in told.items()]
    size = write(family, journals, lines_of)
    sys.stdout.write(f"{family}: {len(journals)} journals, {len(told)} jobs, {size / 1e3:.0f} kB\n")


def _anywhere(line: str) -> str:
    """Return a line without the folders and the boot of the computer it was recorded on."""
    return BOOT.sub(r"\1this boot", FOLDERS.sub("", line))


FAMILIES: Mapping[str, Callable[[], None]] = {
    "made-up": lambda: from_tests("made-up", "tests/judge"),
    "checks": lambda: from_tests("checks", "tests/every", "tests/checks"),
    "runs": lambda: from_tests("runs", "tests/run"),
    "desk": lambda: from_tests("desk", "tests/desk"),
    "terminals": lambda: from_tests("terminals", "tests/real", "tests/guard", *PTYS),
    "quick": lambda: put("quick", simulated.nights("quick", [4])),
    "evening": lambda: put("evening", simulated.nights("evening", [2, 3])),
    "short": lambda: put("short", simulated.short_nights()),
    "supply": lambda: put("supply", simulated.nights("supply", [5])),
    "overnight": lambda: put("overnight", simulated.nights("overnight", [1])),
    "repaired": lambda: put("repaired", simulated.again()),
    "together": lambda: put("together", simulated.together()),
    "intakes": lambda: put("intakes", simulated.intakes()),
    "references": lambda: put("references", simulated.references()),
    "wired": lambda: put("wired", simulated.wired()),
    "cut": lambda: put("cut", simulated.cut()),
    "spoilt": lambda: put("spoilt", spoilt.spoilt().items()),
    "edges": lambda: put("edges", edges.edges()),
    "speed": lambda: from_tests("speed", "tests/rules/test_speed.py"),
    "garbled": lambda: put("garbled", simulated.nights("evening", [2, 3], GARBLED, 0.0)),
    "trips": lambda: from_tests("trips", "tests/derive/test_trips.py"),
    "unguarded": lambda: from_tests("unguarded", "tests/guard/test_unguarded.py"),
    "dead": lambda: put("dead", simulated.nights("overnight", [2], DEAD)),
    "standstills": lambda: from_tests("standstills", "tests/rules/test_transfer_trend.py"),
    "bouts": lambda: from_tests("bouts", *BOUTS),
    "sticks": lambda: from_tests("sticks", "tests/rules/test_wrong_data_told.py"),
    "network": lambda: from_tests("network", "tests/checks/test_network_check.py"),
    "network-nights": lambda: put("network-nights", simulated.nights("overnight", [1], NETWORK)),
    "people": lambda: from_tests("people", *PEOPLE),
}

if __name__ == "__main__":
    if "--convert" in sys.argv:
        for one in families():
            sys.stdout.write(f"{one}: {written_anew(one) / 1e3:.0f} kB\n")
        sys.exit()
    for wanted in sys.argv[1:] or FAMILIES:
        FAMILIES[wanted]()
