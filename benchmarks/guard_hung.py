"""A hung guard, and a busy host that must not be taken for one.

    .venv/bin/python benchmarks/guard_hung.py [STOPS] [BUSY_MIN] [BUSY_PROCESSES]

First the guard is stopped (SIGSTOP) again and again: how soon is the relay off? A stopped process
looks from outside as a hung one does. Then one soak runs on a host kept busy by so many processes
that count for ever: does the runner keep its guard, and how long was the guard silent at most?
"""

import multiprocessing
import signal
import statistics
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "support"))
from guarded_bench import GuardedBench, kill


def hung() -> float:
    """Stop the guard; return when the relay was told off, s."""
    with tempfile.TemporaryDirectory() as folder, GuardedBench(Path(folder)) as bench:
        bench.started()
        at_s = kill(bench.guard_pid(), signal.SIGSTOP)
        deadline_s = time.monotonic() + 30.0
        while bench.relays.off_after_s(at_s) == float("inf") and time.monotonic() < deadline_s:
            time.sleep(0.005)
        return bench.relays.off_after_s(at_s)


def count_for_ever() -> None:
    """Keep one core busy."""
    number = 0
    while True:
        number += 1


def kept_its_guard(minutes: float, processes: int) -> bool:
    """Soak on a busy host; return whether the soak still runs on at the end."""
    busy = [multiprocessing.Process(target=count_for_ever, daemon=True) for _ in range(processes)]
    with tempfile.TemporaryDirectory() as folder, GuardedBench(Path(folder)) as bench:
        runner = bench.started()
        for one in busy:
            one.start()
        try:
            time.sleep(60 * minutes)
            return runner.poll() is None and bench.relays.is_on()
        finally:
            for one in busy:
                one.kill()


def main(stops: int, minutes: float, processes: int) -> int:
    """Print the figures; return 1 if a guard that lived was given up."""
    took = sorted(hung() for _ in range(stops))
    if took:
        middle, worst = statistics.median(took), took[-1]
        print(f"{stops} hung guards: off after {middle:.2f} s (median), {worst:.2f} s (worst)")
    kept = kept_its_guard(minutes, processes) if minutes else True
    if minutes:
        word = "kept" if kept else "GIVEN UP"
        print(f"{minutes:g} min on a host with {processes} busy processes: its guard was {word}")
    return 0 if kept and all(one < float("inf") for one in took) else 1


if __name__ == "__main__":
    given = [float(one) for one in sys.argv[1:]]
    stops, minutes, processes = [*given, *(10.0, 5.0, 16.0)[len(given) :]]
    sys.exit(main(int(stops), minutes, int(processes)))
