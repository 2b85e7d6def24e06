"""How often a night's longest still outlasts what was learned of it; run by hand.

python benchmarks/rests.py
"""

import sys

import numpy as np

NIGHT_S, EVERY_S, NIGHTS = 8 * 3600, 30, 400
TIMES = (1.2, 1.5, 2.0, 3.0)


def main() -> None:
    """Print the share of nights with a still beyond k times the longest learned in T minutes."""
    rng = np.random.default_rng(17)
    sys.stdout.write("spread  minutes" + "".join(f"  k = {times:<4}" for times in TIMES) + "\n")
    for spread in (0.3, 0.6):
        for minutes in (1, 5, 20):
            learned = rng.lognormal(0, spread, (NIGHTS, minutes * 60 // EVERY_S)).max(axis=1)
            longest = rng.lognormal(0, spread, (NIGHTS, NIGHT_S // EVERY_S)).max(axis=1)
            shares = [float(np.mean(longest > times * learned)) for times in TIMES]
            cells = "".join(f"{share:>8.0%} " for share in shares)
            sys.stdout.write(f"{spread:>6}  {minutes:>7}{cells}\n")


if __name__ == "__main__":
    main()
