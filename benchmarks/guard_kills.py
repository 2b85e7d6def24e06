"""Kill runner, guard, or both, at random, again and again: how soon is the unit off?

    .venv/bin/python benchmarks/guard_kills.py [KILLS] [SEED]

A pseudo terminal plays the relay board and remembers what it was told and when. Four kinds in
turn: the runner; the guard; one after the other (a random one first, the other 0.5 to 2.5 s
later); both at once. Where both die at once nobody is left to switch off, and what is timed is
`soak resume`, from its start to the relay's off.
"""

import random
import signal
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "support"))
from guarded_bench import GuardedBench, kill

PROMISED_S = 2.5


def runner_dies(bench: GuardedBench, chance: random.Random) -> float:
    """Kill the runner."""
    return off_after(bench, kill(bench.runners[0].pid))


def guard_dies(bench: GuardedBench, chance: random.Random) -> float:
    """Kill the guard."""
    return off_after(bench, kill(bench.guard_pid()))


def one_after_the_other(bench: GuardedBench, chance: random.Random) -> float:
    """Kill one and then the other."""
    pids = [bench.runners[0].pid, bench.guard_pid()]
    chance.shuffle(pids)
    at_s = kill(pids[0])
    time.sleep(chance.uniform(0.5, 2.5))
    with suppress(ProcessLookupError):  # done and gone already
        kill(pids[1])
    return off_after(bench, at_s)


def both_at_once(bench: GuardedBench, chance: random.Random) -> float:
    """Kill both before either can act, then resume."""
    guard = bench.guard_pid()
    kill(guard, signal.SIGSTOP)
    kill(bench.runners[0].pid)
    kill(guard)
    assert bench.relays.is_on(), "nobody was left, and yet it went off"
    at_s = time.monotonic()
    bench.run(verb=("resume", "last", "--may-sleep"))
    return off_after(bench, at_s)


KINDS: dict[str, Callable[[GuardedBench, random.Random], float]] = {
    "runner killed": runner_dies,
    "guard killed": guard_dies,
    "one, then the other": one_after_the_other,
    "both at once, then resume": both_at_once,
}


def off_after(bench: GuardedBench, at_s: float) -> float:
    """Return when the relay was first told off after a time, s; endless if it was not in 20 s."""
    deadline_s = time.monotonic() + 20.0
    while bench.relays.off_after_s(at_s) == float("inf") and time.monotonic() < deadline_s:
        time.sleep(0.005)
    return bench.relays.off_after_s(at_s)


def main(kills: int, seed: int) -> int:
    """Print a table; return 1 if a promise was broken."""
    chance = random.Random(seed)
    took: dict[str, list[float]] = {kind: [] for kind in KINDS}
    for number in range(kills):
        kind = list(KINDS)[number % len(KINDS)]
        with tempfile.TemporaryDirectory() as folder, GuardedBench(Path(folder)) as bench:
            bench.started()
            time.sleep(chance.uniform(0.0, 1.5))
            took[kind].append(KINDS[kind](bench, chance))
    print(f"{'':<28}{'kills':>6}{'median s':>10}{'worst s':>10}")
    for kind, found in took.items():
        print(f"{kind:<28}{len(found):>6}{statistics.median(found):>10.3f}{max(found):>10.3f}")
    promised = [*took["runner killed"], *took["guard killed"], *took["one, then the other"]]
    return int(max(promised) > PROMISED_S)


if __name__ == "__main__":
    given = [int(text) for text in sys.argv[1:3]]
    sys.exit(main(*(given + [100, 1][len(given) :])))
