"""Cold runs of all outputs of a report: time and memory, beside a Python that only imports.

Run by hand: `python benchmarks/report.py BENCH SOAK`, with a bench folder such as the demo's
`reports/demo`. Each run is a process of its own, so nothing is warm but the files in the page
cache. Time is that of the wall and of the processor; on a busy machine the second says more.
"""

import os
import resource
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

RUNS = 5
STEPS = {
    "python that imports nothing": "pass",
    "all imports of the command": "import soak.desk.paper.reporting, soak.report.output.files, cv2",
    "judge the job": "from soak.desk.soaking.grading import grade_job\n"
    "from soak.desk.bench_folder import BenchFolder\nfrom soak.desk.units import open_ledger\n"
    "b = BenchFolder(Path(BENCH)); grade_job(b, open_ledger(b.path), b.find_soak(SOAK))",
    "everything: soak report --record": "from soak.desk.paper.reporting import report_soak\n"
    "from soak.report.output.files import Outputs\n"
    "report_soak(Path(BENCH), SOAK, '', Outputs(record=True, anyway=True))",
}


def once(code: str) -> tuple[float, float, float]:
    """Run code in a fresh interpreter; return wall s, processor s, largest memory in MB."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    began = time.perf_counter()
    done = subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.DEVNULL)
    _, status, used = os.wait4(done.pid, 0)
    wall_s = time.perf_counter() - began
    done.returncode = os.waitstatus_to_exitcode(status)
    if done.returncode:
        raise SystemExit(f"a step ended with {done.returncode}; before it: {before}")
    return wall_s, used.ru_utime + used.ru_stime, used.ru_maxrss / 1000


def main() -> None:
    """Print the table."""
    bench, soak = sys.argv[1:3]
    print(f"{'step':<36}{'wall s':>8}{'cpu s':>8}{'MB':>8}   median of {RUNS} cold runs")
    with tempfile.TemporaryDirectory() as folder:
        copy = Path(folder) / "bench"
        shutil.copytree(bench, copy)
        for name, step in STEPS.items():
            code = f"from pathlib import Path\nBENCH, SOAK = {str(copy)!r}, {soak!r}\n{step}"
            runs = [once(code) for _ in range(RUNS)]
            wall_s, cpu_s, most = (statistics.median(one) for one in zip(*runs, strict=True))
            print(f"{name:<36}{wall_s:8.2f}{cpu_s:8.2f}{most:8.0f}")


if __name__ == "__main__":
    main()
