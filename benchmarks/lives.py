"""How well lives of sold units are known from so many failures: shape, chance, advised length.

Units of a known Weibull life are soaked for 8 h; those that pass are sold and watched for 200 to
3000 h more, until so many have failed. Costs are those of the worked example in
`tests/judge/explain/test_life.py`. Run: `.venv/bin/python benchmarks/lives.py [NUMBER]`; NUMBER
tables a line, 95 % intervals in brackets. Needs the extra `soak[lives]`.
"""

import sys
from dataclasses import replace
from operator import attrgetter

import numpy as np
from scipy.stats import binomtest

from soak.judge.explain import soak_length
from soak.judge.explain.life import Life, Weibull, fails_within, fit_weibull
from soak.judge.explain.soak_length import Costs, cheapest_length_h

SOAK_H, SCALE_H = 8.0, 5000.0
SHAPES = (0.65, 0.8)
FAILURES = (5, 10, 20, 50)
AGE_H, WINDOW_H = 8.0, 240.0
COSTS = Costs(per_hour=0.07, failed_here=3, came_back=500, warranty_h=700)


def main(number: int) -> None:
    """Print the table; lengths are told below twenty failures too, to see how they spread."""
    print(
        "shape failures | without entry: shape | 90 % bounds hold: shape, chance counted, chance by"
    )
    print(
        "               | fit, length | advised length, h: truth, 5 % and 95 % of tables, told none"
    )
    for shape in SHAPES:
        for failures in FAILURES:
            tell(shape, failures, number)


def tell(shape, failures, number):
    draw = np.random.default_rng([failures, round(100 * shape)])
    truth = Weibull(shape, SCALE_H)
    best_h, chance = cheapest_length_h(truth, COSTS), truth.fails_within(AGE_H, WINDOW_H)
    found = [one for one in (look(draw, truth, failures) for _ in range(number)) if one]
    held = [
        share([low <= true <= high for low, high in (one[name] for one in found)])
        for name, true in (
            ("shape", shape),
            ("counted", chance),
            ("fit", chance),
            ("length", best_h),
        )
    ]
    blind, lengths = ([one[name] for one in found] for name in ("blind", "advised"))
    least, most = np.quantile(lengths, (0.05, 0.95))
    print(
        f"{shape:5} {failures:8} | {np.median(blind):.2f} | {'  '.join(held)} | {best_h:.0f}: "
        f"{least:.0f} to {most:.0f}, {np.mean(np.array(lengths) == 0):.0%} | of {len(found)}",
        flush=True,
    )


def share(held):
    low, high = binomtest(sum(held), len(held)).proportion_ci()
    return f"{np.mean(held):.3f} ({low:.2f}-{high:.2f})"


def look(draw, truth, failures):
    """Return what one table of sold units says; None where it is refused."""
    lives = sold(draw, truth, failures)
    try:
        fit, counted = fit_weibull(lives), fails_within(lives, AGE_H, WINDOW_H)
        blind = fit_weibull([replace(one, entry_h=0.0) for one in lives])
    except ValueError:
        return None
    told = replace(fit, failures=soak_length.FEWEST_FAILURES)
    return {
        "shape": fit.bounds(attrgetter("shape")),
        "counted": (counted.bound_low, counted.bound_high),
        "fit": fit.bounds(lambda life: life.fails_within(AGE_H, WINDOW_H)),
        "length": soak_length.length_bounds_h(told, COSTS),
        "advised": cheapest_length_h(fit, COSTS),
        "blind": blind.shape,
    }


def sold(draw, truth, failures):
    """Draw units one by one until so many of those that passed the soak have failed."""
    lives, failed = [], 0
    while failed < failures:
        age_h = truth.scale * draw.weibull(truth.shape)
        if age_h <= SOAK_H:
            continue
        end_h = SOAK_H + draw.uniform(200, 3000)
        failed += age_h <= end_h
        lives.append(Life(min(age_h, end_h), bool(age_h <= end_h), SOAK_H))
    return lives


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 300)
