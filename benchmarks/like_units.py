"""How often the interval beside like units holds the unit's true figure.

Units of one population are made: each has its own rate of lost pictures, or failed share of starts,
drawn around a mean. Some are the pool, one more is the unit at hand. Run:
`.venv/bin/python benchmarks/like_units.py [NUMBER]`; NUMBER units a line, 95 % intervals beside.
"""

import sys

import numpy as np
from scipy.stats import binomtest

from soak.judge.explain.pooled import MASS
from soak.judge.explain.pooling import shrunk_rate, shrunk_share, usual_rate, usual_share

SIZES = (5, 10, 30)
RATES = ((0.3, 0.5), (0.3, 2.0), (0.3, None), (0.05, 1.0), (1.0, 5.0))
"""Mean losses an hour, and shape of the gamma distribution; None: all units alike."""
SHARES = ((0.02, 20.0), (0.1, 5.0), (0.1, 30.0), (0.1, None), (0.3, 3.0))
"""Mean failed share, and a + b of the beta distribution; None: all units alike."""


def main(number: int) -> None:
    """Print the table."""
    cells = "".join(f"  {units} units".ljust(21) for units in SIZES)
    print(f"{'90 % interval of':30} {'units that differ':19} {cells}")
    for mean, shape in RATES:
        tell(f"{mean:g} losses an hour", shape, number, rate, mean)
    for mean, worth in SHARES:
        tell(f"{mean:.0%} of starts fail", worth, number, share, mean)


def tell(name, differ, number, holds, mean):
    cells = []
    for units in SIZES:
        draw = np.random.default_rng([units, round(1000 * mean), round(10 * (differ or 0))])
        found = [
            one
            for one in (holds(draw, units, mean, differ) for _ in range(number))
            if one is not None
        ]
        low, high = binomtest(sum(found), len(found)).proportion_ci()
        cells.append(f"{np.mean(found):.3f} ({low:.2f}-{high:.2f})")
    told = "alike" if differ is None else f"spread by {differ:g}"
    print(f"{name:30} {told:20} {'  '.join(cells)}", flush=True)


def rate(draw, units, mean, shape):
    """Tell whether the interval holds the true rate; None where nothing stands beside."""
    true = np.full(units + 1, mean) if shape is None else draw.gamma(shape, mean / shape, units + 1)
    hours = draw.uniform(4, 10, units + 1)
    counts = draw.poisson(true * hours)
    usual = usual_rate(counts[1:], hours[1:])
    if usual is None:
        return None
    found = shrunk_rate(int(counts[0]), float(hours[0]), usual, MASS)
    return found.bound_low <= true[0] <= found.bound_high


def share(draw, units, mean, worth):
    """Tell whether the interval holds the true share; None where nothing stands beside."""
    true = (
        np.full(units + 1, mean)
        if worth is None
        else draw.beta(mean * worth, (1 - mean) * worth, units + 1)
    )
    trials = draw.integers(20, 61, units + 1)
    failed = draw.binomial(trials, true)
    usual = usual_share(failed[1:], trials[1:])
    if usual is None:
        return None
    found = shrunk_share(int(failed[0]), int(trials[0]), usual, MASS)
    return found.bound_low <= true[0] <= found.bound_high


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
