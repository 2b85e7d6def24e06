"""Temperatures by Newton's law of cooling: real excursions, and nights with one bad reading.

Everything here is computed from the law itself, without the program that is tested. The excursions
are meant to be as hard as they can be: bodies far smaller than any that a probe sits on among them.
"""

import numpy as np

PERIODS_S = (0.2, 1.0, 2.0, 5.0, 10.0, 30.0, 60.0)
"""Time from one reading to the next, s."""
EXCURSIONS = ("plateau", "cools", "creeps", "warms and cuts", "small body cut", "fades in and out")
READINGS = 600
BEYOND_K = 5.0


def cooling(from_degc, to_degc, tau_s, every_s, number):
    """Newton's law of cooling: T = Tf + (T0 - Tf) exp(-t / tau), from the first reading on."""
    return to_degc + (from_degc - to_degc) * np.exp(-every_s * np.arange(number) / tau_s)


def warm_night(every_s, rng, number=READINGS):
    """Return times and the temperature of a spot that warms in two terms over a slow room."""
    t_s = every_s * np.arange(number) + rng.uniform(-0.02, 0.02, number) * every_s
    since_s = t_s + rng.uniform(0.0, 4.0) * 480.0
    rise_k = rng.uniform(15.0, 40.0) * -np.expm1(-since_s / rng.uniform(240.0, 900.0))
    room = 21.5 + 0.7 * np.sin(2 * np.pi * since_s / 21600.0)
    return t_s, room + rise_k


def as_read(degc, rng, noise_k):
    """Add noise and round to a tenth, as thermometers print."""
    return np.round(degc + rng.normal(0.0, noise_k, len(degc)), 1)


def real_excursion(kind, every_s, seed):
    """Return times, readings, and which of them belong to an excursion of two readings or more."""
    rng = np.random.default_rng([seed, EXCURSIONS.index(kind), round(every_s * 10)])
    t_s, degc = warm_night(every_s, rng)
    at, peak_k = int(rng.integers(50, READINGS - 50)), rng.uniform(8.0, 60.0)
    added = np.zeros(READINGS)
    rest = READINGS - at
    if kind == "plateau":
        added[at : at + int(rng.integers(2, 12))] = peak_k
    elif kind == "cools":  # at once up, then by a time constant from half a period on
        added[at:] = cooling(peak_k, 0.0, rng.uniform(0.5, 40.0) * every_s, every_s, rest)
    elif kind == "creeps":  # over a few readings up, at once down
        up = int(rng.integers(2, 20))
        added[at : at + up] = peak_k * (np.arange(up) + 1) / up
    elif kind == "warms and cuts":  # over a few readings up, and by a time constant down
        up = int(rng.integers(2, 20))
        added[at : at + up] = peak_k * (np.arange(up) + 1) / up
        tau_s = rng.uniform(0.5, 40.0) * every_s
        added[at + up :] = cooling(peak_k, 0.0, tau_s, every_s, rest - up + 1)[1:]
    elif kind == "small body cut":  # the power goes at the peak, and all of the spot cools
        tau_s = rng.uniform(3.0, 40.0) * every_s
        degc[at:] = cooling(degc[at] + peak_k, 22.0, tau_s, every_s, rest)
    else:  # a bell, wide enough that two readings are beyond a third of it
        width = rng.uniform(0.8, 6.0)
        added = peak_k * np.exp(
            -0.5 * ((np.arange(READINGS) - at - rng.uniform(0, 1)) / width) ** 2
        )
    odd = added > 0.15 * peak_k
    if kind == "small body cut":
        odd[at : at + 2] = True
    return t_s, as_read(degc + added, rng, rng.choice([0.02, 0.08, 0.2])), odd


def garbled_night(every_s, seed):
    """Return times, readings and the place of the one that came garbled by more than 5 K."""
    rng = np.random.default_rng([seed, 99, round(every_s * 10)])
    t_s, degc = warm_night(every_s, rng)
    read = as_read(degc, rng, rng.choice([0.02, 0.08, 0.2]))
    at = int(rng.integers(5, READINGS - 5))
    right = read[at]
    ways = (85.0, 0.0, right + 20.0, right - 20.0, right % 10, round(right / 10, 1), right + 100.0)
    wrong = [way for way in ways if abs(way - right) > BEYOND_K]
    read[at] = wrong[int(rng.integers(len(wrong)))]
    return t_s, read, at
