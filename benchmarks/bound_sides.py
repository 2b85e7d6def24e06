"""How often the bounds of a share hold the truth, by the binomial distribution itself.

Run: python benchmarks/bound_sides.py
"""

import numpy as np
from scipy.stats import binom

from soak.statistics.bounds import clopper_pearson

CONFIDENCE = 0.95
TRIALS = (5, 20, 59, 120)
TRUE_SHARES = np.linspace(0.0005, 0.9995, 1999)


def least_held(trials: int, two_sided: bool | None) -> float:
    """Return the least coverage over all true shares; None: one-sided at none, else two-sided."""
    held = np.zeros_like(TRUE_SHARES)
    for failed in range(trials + 1):
        sides = failed > 0 if two_sided is None else two_sided
        low, high = clopper_pearson(failed, trials, CONFIDENCE, sides)
        inside = (high >= TRUE_SHARES) & ((low <= TRUE_SHARES) | (not sides))
        held += binom.pmf(failed, trials, TRUE_SHARES) * inside
    return float(held.min())


def main() -> None:
    """Print the table of docs/explanation/what-a-soak-shows.md."""
    print("| starts | one side | two sides | one at none, two at more |")
    print("|---|---|---|---|")
    for trials in TRIALS:
        cells = [f"{least_held(trials, sides):.4f}" for sides in (False, True, None)]
        print(f"| {trials} | {' | '.join(cells)} |")


if __name__ == "__main__":
    main()
