"""Single garbled readings: real excursions that are set aside, and good nights that are charged.

Run by hand: `.venv/bin/python benchmarks/garbled.py [NUMBER]`, some minutes with the usual 2 000.
Excursions and nights are made by Newton's law of cooling in `tests/support/excursions.py`. A night
is judged by the rule itself, at a limit 1 K above all that the unit ever has; an excursion must
keep each of its readings.
"""

import sys
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "support"))
from excursions import EXCURSIONS, PERIODS_S, garbled_night, real_excursion
from made_up_soak import STARTS_S, clean_night, demand

from soak.derive.events.garbled import alone
from soak.judge.judging import judge_requirement

USUAL = 2000


def main(number: int) -> None:
    """Print both tables."""
    aside = Counter[tuple[str, float]]()
    for every_s in PERIODS_S:
        for kind in EXCURSIONS:
            for seed in range(1000, 1000 + number):
                t_s, degc, excursion = real_excursion(kind, every_s, seed)
                aside[kind, every_s] += bool((alone(t_s, degc) & excursion).any())
    print(f"real excursions of two readings or more with a reading set aside, of {number} each:")
    print("every".rjust(16) + "".join(f"{every_s:g} s".rjust(8) for every_s in PERIODS_S))
    for kind in EXCURSIONS:
        print(kind.rjust(16) + "".join(f"{aside[kind, one]}".rjust(8) for one in PERIODS_S))
    print(f"good nights with one garbled reading, of {number} each:")
    for every_s in PERIODS_S:
        verdicts = Counter(_verdict(every_s, seed) for seed in range(1000, 1000 + number))
        found = ", ".join(f"{count} {word}" for word, count in sorted(verdicts.items()))
        print(f"{every_s:g} s".rjust(16) + f"  {found}")


def _verdict(every_s: float, seed: int) -> str:
    """Judge one night at a limit that the unit itself keeps."""
    t_s, degc, at = garbled_night(every_s, seed)
    lasts_s = float(t_s[-1] - t_s[0])
    script = {"name": "night", "stretches": [{"name": "hot run", "lasts_s": lasts_s, "checks": {}}]}
    soak = clean_night(starts=0).with_header(script=script)
    soak.pieces["hot run"] = [(STARTS_S, STARTS_S + lasts_s)]
    soak.readings["probe.outside"] = (STARTS_S + t_s - t_s[0], degc)
    limit_degc = float(np.delete(degc, at).max()) + 1.0
    probe = frozenset({"probe"})
    need = demand("at most", "probe.outside", limit_degc, unit="degC", needs=probe)
    return judge_requirement(need, [soak.demanding(need)]).verdict.value


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else USUAL)
