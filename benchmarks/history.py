"""How long does judging the whole history take? A ledger of many jobs, with one process and two.

Run: benchmarks/history.py [JOBS]. Each job is one brief simulated soak.
"""

import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "support"))
from typed_bench import BRIEF, SHEET, SIMULATED, TypedBench, soak_brief

from soak.desk.bench_folder import BenchFolder
from soak.desk.morning.comparing import judge_all
from soak.desk.soaking.grading import grade_job
from soak.ledger.ledger import Ledger


def main() -> None:
    jobs = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    with tempfile.TemporaryDirectory() as scratch:
        path = Path(scratch)
        make_history(path, jobs)
        began_s = time.perf_counter()
        plain = judge_all(path)
        print(f"{jobs} jobs, one process: {time.perf_counter() - began_s:.1f} s")
        with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
            list(pool.map(abs, range(8)))  # the workers are there
            began_s = time.perf_counter()
            both = judge_all(path, pool.map)
            print(f"{jobs} jobs, two processes: {time.perf_counter() - began_s:.1f} s")
        print(f"the same: {plain == both}; changed: {sum(one.changed for one in plain)}")


def make_history(path: Path, jobs: int) -> None:
    bench = TypedBench(path)
    bench.write("fixtures/models/ferrow-sp-40.toml", SHEET.read_text())
    bench.write("fixtures/sim.toml", SIMULATED)
    bench.write("scripts/brief.toml", BRIEF)
    ledger, folder = Ledger(path / "ledger.sqlite"), BenchFolder(path)
    for number in range(jobs):
        tag = f"H{number}"
        ledger.add_unit(model="ferrow-sp-40", tag=tag, serial=f"SP40-{number:05}")
        soak_brief(path, tag, 1e9)
        grade_job(folder, ledger, folder.find_soak(f"{tag}-"))


if __name__ == "__main__":
    main()
