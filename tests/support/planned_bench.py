"""A bench of simulated units soaked by a script with sequential plans; killed at a soak time.

Run as a program in a bench's folder it soaks K1 and dies: `planned_bench.py T_S`.
"""

import os
import sys
from datetime import UTC, datetime
from pathlib import Path

import trio

from soak.clock import LeapingClock
from soak.desk.bench_folder import BenchFolder
from soak.desk.orders import Order, prepare
from soak.desk.soaking.carrying_out import Running, soak_all
from soak.journal import open_evidence
from soak.ledger.ledger import Ledger
from soak.live.prompt import as_wanted
from soak.run.script import read_script

SCRIPT = """\
name = "planned"
not_after = "24 h"
[[stretch]]
name = "starts"
[stretch.plan]
of = "warm starts"
good = 0.01
bad = 0.20
[stretch.power_cycles]
off_s = 5
on_s = 30
[[stretch]]
name = "run"
[stretch.plan]
of = "hours"
good = "20 h"
bad = "1 h"
[stretch.picture]
"""
FIXTURE = """\
name = "simulated bench"
simulated = "scene.toml"
[switch]
driver = "simulated"
[capture]
driver = "simulated"
port = "video"
"""
GOOD = 'truth = "nothing"\ntruth_grade = "ready"\nfault = "none"\n'
EVENING = datetime(2026, 1, 5, 20, 0, tzinfo=UTC)


def planned_bench(path: Path, scene: str = GOOD, script: str = SCRIPT) -> Path:
    """Make a bench with a script, a scene and K1; return it."""
    from one_unit_bench import bench_with_k1

    file = path / "scene.toml"
    path.mkdir(parents=True, exist_ok=True)
    file.write_text(scene)
    bench_with_k1(path, FIXTURE.replace('"scene.toml"', f'"{file}"'))
    (path / "scripts").mkdir()
    (path / "scripts" / "planned.toml").write_text(script)
    (path / "details").mkdir()
    (path / "details" / "K1-1.toml").write_text('left_out = ["service_usb", "cooling"]\n')
    return path


def soak_planned(path: Path, dies_at_s: float = 1e9) -> object:
    """Soak K1 by the script in simulated time; return the evidence."""
    bench, clock, running = BenchFolder(path), LeapingClock(starts_utc=EVENING), Running()
    script = read_script(path / "scripts" / "planned.toml")
    order = Order("K1", Path("fixtures/left.toml"))
    one = prepare(bench, Ledger(bench.ledger), script, order, EVENING, 1)

    def maybe_die(record: object) -> None:
        if clock.now_s() > dies_at_s:
            # Under a leaping clock records are written by count; what was said must be on disk.
            running.soaks[0]._journal.close()
            os._exit(9)

    async def main() -> None:
        await soak_all([one], clock, as_wanted(lambda _: None), running, lambda *_: [maybe_die])

    trio.run(main, clock=clock)
    return open_evidence(one.folder)


if __name__ == "__main__":
    soak_planned(Path(), float(sys.argv[1]))
