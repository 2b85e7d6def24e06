"""How long a short break of the supply really is: the real driver, SCPI on a pseudo terminal.

    .venv/bin/python benchmarks/supply_breaks.py [BREAKS]

Measured from the supply's hearing of OUTP OFF to its hearing of OUTP ON; what a real supply's own
processor and output capacitor add no program can tell.
"""

import statistics
import sys
import tempfile
from pathlib import Path

import trio

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "support"))
from bench_tools import open_driver, tools
from serial_peer import SerialPeer, line_by_line
from supplied_bench import Supply

from soak.bench.registry import Tools
from soak.clock import BootClock

LENGTHS_S = (0.02, 0.05, 0.1, 0.3, 1.0)
RATED = {"lowest_v": 10.8, "nominal_v": 12.0, "highest_v": 13.2}


async def measure(port: Path, supply: Supply, breaks: int, given: Tools) -> None:
    """Break the power again and again; print each length's errors."""
    plain = {"driver": "scpi_supply", "port": str(port), "settle_s": 0.0, "pause_s": 0.0}
    settings = {**plain, "sets_voltage": True, "accuracy_v": 0.05, "rated": RATED}
    switch = await open_driver("switch", "switch", settings, given)
    await switch.command("1", True)
    print("asked     median    shortest  longest   as the journal says (worst difference)")
    for asked_s in LENGTHS_S:
        heard_s, off_by_s = [], []
        for _ in range(breaks):
            supply.told.clear()
            told_s = await switch.interrupt("1", asked_s)
            (off, on) = [t_s for t_s, word in supply.told if word.startswith("OUTP ")]
            heard_s.append(on - off)
            off_by_s.append(abs(told_s - (on - off)))
        figures = (statistics.median(heard_s), min(heard_s), max(heard_s), max(off_by_s))
        print(f"{asked_s:<8g}  " + "  ".join(f"{one:.4f} s" for one in figures))
    await switch.aclose()


def main() -> None:
    """Measure and print."""
    breaks = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    supply, clock = Supply(), BootClock()
    with (
        tempfile.TemporaryDirectory() as folder,
        SerialPeer(Path(folder) / "port", line_by_line(supply.answer)) as peer,
    ):
        trio.run(measure, peer.link, supply, breaks, tools(clock), clock=clock)


if __name__ == "__main__":
    main()
