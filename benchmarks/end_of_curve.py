"""How often the bounds of a foretold end hold in a room that swings, with a probe and without.

A body warms by Newton's law in a room whose temperature swings as a sine.
Run: python benchmarks/end_of_curve.py [NIGHTS]
"""

import sys

import numpy as np

from soak.derive.heat import END_WITHIN_K, end_in_room
from soak.measure.heating import Fit, predict_end

STEP_S, NOISE_K, ROOM_DEGC, RISE_K = 10.0, 0.05, 22.0, 25.0
SWINGS_K = (0.0, 0.2, 0.7, 1.5)
"""From lowest to highest."""
PERIODS_S = (1200.0, 3600.0, 14_400.0)


def one_night(random: np.random.Generator, swing_k: float, period_s: float, probed: bool):
    """Return the fit, or why there is none, and the true end."""
    tau_s, length_s = random.uniform(900.0, 2400.0), random.uniform(5400.0, 14_400.0)
    t_s = np.arange(0.0, length_s, STEP_S)
    phase = random.uniform(0.0, 2 * np.pi)
    room = ROOM_DEGC + swing_k / 2 * np.sin(2 * np.pi * t_s / period_s + phase)
    body = np.empty_like(t_s)
    body[0] = room[0]
    keeps = np.exp(-STEP_S / tau_s)
    for at in range(1, len(t_s)):
        goal = room[at - 1] + RISE_K
        body[at] = goal + (body[at - 1] - goal) * keeps
    body += random.normal(0.0, NOISE_K, len(t_s))
    if probed:
        read = room + random.normal(0.0, NOISE_K, len(t_s))
        return end_in_room(t_s, body - read, read, END_WITHIN_K), RISE_K
    return predict_end(t_s, body, END_WITHIN_K), ROOM_DEGC + RISE_K


def main() -> None:
    """Print a line for each room."""
    nights = int(sys.argv[1]) if len(sys.argv) > 1 else 100
    print("| room swings | in | probe of the room | bounds printed | that hold |")
    print("|---|---|---|---|---|")
    for swing_k in SWINGS_K:
        for period_s in PERIODS_S if swing_k else PERIODS_S[:1]:
            for probed in (True, False):
                random = np.random.default_rng(11)
                told = [one_night(random, swing_k, period_s, probed) for _ in range(nights)]
                fits = [(fit, end) for fit, end in told if isinstance(fit, Fit)]
                held = sum(fit.bound_low <= end <= fit.bound_high for fit, end in fits)
                share = f"{held / len(fits):.3f}" if fits else "–"
                print(
                    f"| {swing_k:g} K | {period_s / 60:g} min | {'yes' if probed else 'no'} | "
                    f"{len(fits)} of {nights} | {share} |",
                    flush=True,
                )


if __name__ == "__main__":
    main()
