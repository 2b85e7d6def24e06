"""Random streams of the simulation, keyed by what they are for and never by call order."""

import hashlib

import numpy as np


def stream(seed: int, part: str, number: int = 0) -> np.random.Generator:
    """Return the generator of one part of a simulated unit.

    The same (seed, part, number) gives the same stream whatever else was drawn before, so that a
    unit's history does not depend on which check asks first.

    Parameters
    ----------
    part : str
        What the numbers are for: `"starts"`, `"contact.video"`.
    number : int
        Which start, movement or block of the part.
    """
    key = int.from_bytes(hashlib.sha256(part.encode()).digest()[:8], "big")
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence([seed, key, number])))


def between(generator: np.random.Generator, low_high: tuple[float, float]) -> float:
    """Draw evenly from a range, both ends in the same measurement unit."""
    return float(generator.uniform(*low_high))
